# What modules link of Botan, SQLite, libarchive and ctemplate: the library's archive, where it links
# by itself. The shared ones bring 20,000 relocations and, with what they need in turn, fifteen
# libraries more (OpenSSL and ICU among them) into every start of every command. Where there is no
# such archive, or CARDSEAL_ARCHIVES is off, the shared library it is.

include(CheckCXXSourceCompiles)

if(DEFINED CARDSEAL_STATIC_BOTAN AND NOT CARDSEAL_STATIC_BOTAN AND CARDSEAL_ARCHIVES)
  message(FATAL_ERROR "CARDSEAL_STATIC_BOTAN=OFF is now CARDSEAL_ARCHIVES=OFF, and of four libraries (-U CARDSEAL_STATIC_BOTAN)")
endif()

# cardseal_from_archive(<target> <prefix> <name> NEEDS <library>... ONLY_WITH <target> CODE <program>)
# <target>: what modules and tests link. <prefix>: of what pkg-config said. <name>: of the archive. CODE
# calls what they call. ONLY_WITH: not unless that one is an archive too, since the shared one would
# bring a second copy, or libraries that then have to be named.
function(cardseal_from_archive target prefix name)
  cmake_parse_arguments(PARSE_ARGV 3 arg "" "CODE;ONLY_WITH" "NEEDS")
  add_library(${target} INTERFACE)
  # Debian's libarchive has each function in a section of its own. What its ustar writer calls of the
  # list of formats names the writers of all of them, which need six libraries; nobody calls those.
  set(link_options -Wl,--gc-sections)
  set(usable ${CARDSEAL_ARCHIVES})
  if(arg_ONLY_WITH AND NOT ${arg_ONLY_WITH}_links)
    set(usable OFF)
  endif()
  if(usable)
    find_library(${target}_archive NAMES lib${name}.a HINTS ${${prefix}_LIBDIR})
    set(CMAKE_REQUIRED_INCLUDES ${${prefix}_INCLUDE_DIRS})
    set(CMAKE_REQUIRED_LIBRARIES ${${target}_archive} ${arg_NEEDS})
    set(CMAKE_REQUIRED_LINK_OPTIONS ${link_options})
    set(CMAKE_REQUIRED_FLAGS -std=c++20)
    if(${target}_archive)
      check_cxx_source_compiles("${arg_CODE}" ${target}_links)
    endif()
  endif()
  if(NOT usable OR NOT ${target}_links)
    target_link_libraries(${target} INTERFACE PkgConfig::${prefix})
    return()
  endif()
  target_include_directories(${target} SYSTEM INTERFACE ${${prefix}_INCLUDE_DIRS})
  target_link_libraries(${target} INTERFACE ${${target}_archive} ${arg_NEEDS})
  # Archives hold debugging information, Botan's 30 MB for each program; a release has none.
  target_link_options(${target} INTERFACE ${link_options} $<$<CONFIG:Release>:-Wl,--strip-debug>)
endfunction()

cardseal_from_archive(cardseal_botan BOTAN ${BOTAN_MODULE_NAME} CODE [[
  #include <botan/cipher_mode.h>
  #include <botan/ed25519.h>
  #include <botan/hash.h>
  #include <botan/pem.h>
  #include <botan/pubkey.h>
  #include <botan/pwdhash.h>
  #include <botan/rng.h>
  #include <botan/version.h>
  #if BOTAN_VERSION_MAJOR >= 3
  constexpr auto encrypting = Botan::Cipher_Dir::Encryption;
  #else
  constexpr auto encrypting = Botan::ENCRYPTION;
  #endif
  int main() {
    Botan::Null_RNG none;
    const Botan::Ed25519_PublicKey key(std::vector<uint8_t>(32));
    Botan::PK_Verifier verifier(key, "Pure");
    auto stretched = Botan::PasswordHashFamily::create_or_throw("PBKDF2(HMAC(SHA-256))");
    auto cipher = Botan::Cipher_Mode::create_or_throw("AES-256/CBC/PKCS7", encrypting);
    return Botan::PEM_Code::encode(key.public_key_bits(), "KEY").size() ==
           Botan::HashFunction::create("SHA-256")->output_length();
  }]])

cardseal_from_archive(cardseal_sqlite SQLITE sqlite3 ONLY_WITH cardseal_botan NEEDS m ${CMAKE_DL_LIBS} CODE [[
  #include <sqlite3.h>
  int main() {
    sqlite3* database = nullptr;
    sqlite3_stmt* statement = nullptr;
    return sqlite3_open_v2(":memory:", &database, SQLITE_OPEN_READWRITE, nullptr) +
           sqlite3_prepare_v3(database, "SELECT 1", -1, 0, &statement, nullptr) +
           sqlite3_step(statement) + sqlite3_finalize(statement) + sqlite3_close(database);
  }]])

# The unused writers name functions that libelf's own libraries have; the linker wants those named too.
cardseal_from_archive(cardseal_libarchive ARCHIVE archive ONLY_WITH cardseal_botan
  NEEDS -Wl,--push-state,--as-needed,-lz,--pop-state CODE [[
  #include <archive.h>
  #include <archive_entry.h>
  int main() {
    archive* writer = archive_write_new();
    archive_write_set_format_ustar(writer);
    archive_write_open(writer, nullptr, nullptr, nullptr, nullptr);
    archive_entry* entry = archive_entry_new();
    archive_entry_set_pathname(entry, "a");
    archive_write_header(writer, entry);
    archive_write_data(writer, "a", 1);
    archive* reader = archive_read_new();
    archive_read_support_format_tar(reader);
    archive_read_open_memory(reader, "a", 1);
    archive_read_next_header(reader, &entry);
    const void* block = nullptr;
    size_t size = 0;
    la_int64_t offset = 0;
    return archive_read_data_block(reader, &block, &size, &offset) +
           archive_write_free(writer) + archive_read_free(reader);
  }]])

cardseal_from_archive(cardseal_ctemplate CTEMPLATE ctemplate_nothreads CODE [[
  #include <ctemplate/template.h>
  int main() {
    ctemplate::TemplateDictionary words("words");
    std::string out;
    return ctemplate::StringToTemplateCache("a", "{{B}}", ctemplate::DO_NOT_STRIP) &&
           ctemplate::ExpandTemplate("a", ctemplate::DO_NOT_STRIP, &words, &out);
  }]])
