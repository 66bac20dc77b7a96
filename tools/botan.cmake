# cardseal_botan: what lib/crypto links. The shared library brings 9,000 relocations and, on Debian
# 12, the whole of OpenSSL, into every start of every command; of the archive only what is used gets
# in. Where there is no archive that links by itself, the shared library it is.

include(CheckCXXSourceCompiles)
add_library(cardseal_botan INTERFACE)

if(CARDSEAL_STATIC_BOTAN)
  find_library(BOTAN_ARCHIVE NAMES lib${BOTAN_MODULE_NAME}.a)
  if(BOTAN_ARCHIVE)
    set(CMAKE_REQUIRED_INCLUDES ${BOTAN_INCLUDE_DIRS})
    set(CMAKE_REQUIRED_LIBRARIES ${BOTAN_ARCHIVE})
    set(CMAKE_REQUIRED_FLAGS -std=c++20)
    check_cxx_source_compiles([[
      #include <botan/auto_rng.h>
      #include <botan/ed25519.h>
      #include <botan/hash.h>
      #include <botan/pkcs8.h>
      int main() {
        Botan::AutoSeeded_RNG rng;
        const Botan::Ed25519_PrivateKey key(rng);
        return Botan::PKCS8::PEM_encode(key).size() == Botan::HashFunction::create("SHA-256")->output_length();
      }]] BOTAN_ARCHIVE_LINKS)
  endif()
endif()

if(BOTAN_ARCHIVE_LINKS)
  target_include_directories(cardseal_botan SYSTEM INTERFACE ${BOTAN_INCLUDE_DIRS})
  target_link_libraries(cardseal_botan INTERFACE ${BOTAN_ARCHIVE})
  # Debian's archive holds 30 MB of debugging information for each program; a release has none.
  target_link_options(cardseal_botan INTERFACE $<$<CONFIG:Release>:-Wl,--strip-debug>)
else()
  target_link_libraries(cardseal_botan INTERFACE PkgConfig::BOTAN)
endif()
