# cmake -C tools/switch.cmake -B build/switch -G Ninja      test-only; see lib/base/check_switch.h
set(CMAKE_BUILD_TYPE Release CACHE STRING "")
set(CMAKE_CXX_FLAGS_RELEASE "-O1 -DNDEBUG" CACHE STRING "")
set(CARDSEAL_TESTS ON CACHE BOOL "")
set(CARDSEAL_CHECK_SWITCH ON CACHE BOOL "")
