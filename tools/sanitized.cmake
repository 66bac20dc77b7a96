# cmake -C tools/sanitized.cmake -B build/sanitized -G Ninja
# clang: it has libFuzzer, and takes half of the time that GCC 12 takes here.
set(CMAKE_CXX_COMPILER clang++ CACHE STRING "")
set(CMAKE_BUILD_TYPE RelWithDebInfo CACHE STRING "")
set(CMAKE_CXX_FLAGS_RELWITHDEBINFO "-O1 -g1" CACHE STRING "")
set(CARDSEAL_TESTS ON CACHE BOOL "")
set(CARDSEAL_SANITIZE ON CACHE BOOL "")
set(CARDSEAL_SHARED_HEADERS ON CACHE BOOL "")
set(CARDSEAL_ARCHIVES OFF CACHE BOOL "") # thirty programs that are linked often and start once
