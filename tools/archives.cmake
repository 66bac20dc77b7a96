# What modules link of Botan, SQLite, libarchive and ctemplate: the library's archive, where it links
# by itself. The shared ones bring 20,000 relocations and, with what they need in turn, fifteen
# libraries more (OpenSSL and ICU among them) into every start of every command. Where there is no
# such archive, or CARDSEAL_ARCHIVES is off, the shared library it is.

include(CheckCXXSourceCompiles)

# cardseal_from_archive(<target> <shared target> <archive's name> INCLUDES <folder>... NEEDS <library>... CODE <program>)
# <target>: what modules and tests link. CODE uses what they use.
function(cardseal_from_archive target shared name)
  cmake_parse_arguments(PARSE_ARGV 3 arg "" "CODE" "INCLUDES;NEEDS")
  add_library(${target} INTERFACE)
  if(CARDSEAL_ARCHIVES)
    find_library(${target}_archive NAMES lib${name}.a)
    # Debian's libarchive has each function in a section of its own; its ustar writer's file names the
    # writers of all formats, which need six libraries, and are left out with nobody to call them.
    set(link_options -Wl,--gc-sections)
    set(CMAKE_REQUIRED_INCLUDES ${arg_INCLUDES})
    set(CMAKE_REQUIRED_LIBRARIES ${${target}_archive} ${arg_NEEDS})
    set(CMAKE_REQUIRED_LINK_OPTIONS ${link_options})
    set(CMAKE_REQUIRED_FLAGS -std=c++20)
    if(${target}_archive)
      check_cxx_source_compiles("${arg_CODE}" ${target}_links)
    endif()
  endif()
  if(NOT ${target}_links)
    target_link_libraries(${target} INTERFACE ${shared})
    return()
  endif()
  target_include_directories(${target} SYSTEM INTERFACE ${arg_INCLUDES})
  target_link_libraries(${target} INTERFACE ${${target}_archive} ${arg_NEEDS})
  # Archives hold debugging information, Botan's 30 MB for each program; a release has none.
  target_link_options(${target} INTERFACE ${link_options} $<$<CONFIG:Release>:-Wl,--strip-debug>)
endfunction()

cardseal_from_archive(cardseal_botan PkgConfig::BOTAN ${BOTAN_MODULE_NAME} INCLUDES ${BOTAN_INCLUDE_DIRS} CODE [[
  #include <botan/auto_rng.h>
  #include <botan/ed25519.h>
  #include <botan/hash.h>
  #include <botan/pkcs8.h>
  int main() {
    Botan::AutoSeeded_RNG rng;
    const Botan::Ed25519_PrivateKey key(rng);
    return Botan::PKCS8::PEM_encode(key).size() == Botan::HashFunction::create("SHA-256")->output_length();
  }]])

cardseal_from_archive(cardseal_sqlite PkgConfig::SQLITE sqlite3 NEEDS m ${CMAKE_DL_LIBS} CODE [[
  #include <sqlite3.h>
  int main() {
    sqlite3* database = nullptr;
    return sqlite3_open(":memory:", &database) + sqlite3_close(database);
  }]])

# The unused writers still name functions that libelf's own libraries have; the linker wants those named too.
cardseal_from_archive(cardseal_libarchive PkgConfig::ARCHIVE archive NEEDS -Wl,--push-state,--as-needed,-lz,--pop-state CODE [[
  #include <archive.h>
  int main() {
    archive* writer = archive_write_new();
    archive* reader = archive_read_new();
    return archive_write_set_format_ustar(writer) + archive_read_support_format_tar(reader) +
           archive_write_free(writer) + archive_read_free(reader);
  }]])

cardseal_from_archive(cardseal_ctemplate PkgConfig::CTEMPLATE ctemplate_nothreads CODE [[
  #include <ctemplate/template.h>
  int main() {
    ctemplate::TemplateDictionary words("words");
    std::string out;
    return ctemplate::ExpandTemplate("no-such-file", ctemplate::DO_NOT_STRIP, &words, &out);
  }]])
