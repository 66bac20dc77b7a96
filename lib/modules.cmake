# The modules, lowest first, with the exact modules that each includes from. This one list drives
# building and linking; tests/compile/module_table.py holds the includes against it both ways.
#
#   cardseal_module(<name> [FREESTANDING] [USES <module>...] [THIRD <cmake target>...])
#
# FREESTANDING modules run on a station: no heap, exceptions, RTTI or operating system.

set(sanitizers -fsanitize=address,undefined -fno-sanitize-recover=all)
# What libFuzzer follows: edges only, since following comparisons makes the unit tests several times slower.
set(followed -fsanitize-coverage=inline-8bit-counters,pc-table)

# What nearly every desk source reads first, compiled once. Only without optimisation: GCC 12 then
# finds fault with the standard library's strings, as it would without the header were it not theirs.
if(CARDSEAL_SHARED_HEADERS)
  add_library(cardseal_desk_headers OBJECT ${PROJECT_SOURCE_DIR}/lib/desk_headers.cpp)
  target_precompile_headers(cardseal_desk_headers PRIVATE
    <algorithm> <array> <cstdint> <filesystem> <memory> <optional> <span> <string> <string_view>
    <utility> <vector> <fmt/format.h>)
  target_link_libraries(cardseal_desk_headers PRIVATE fmt::fmt)
  if(CARDSEAL_SANITIZE)
    target_compile_options(cardseal_desk_headers PRIVATE ${sanitizers} ${followed})
  endif()
endif()

function(cardseal_module name)
  cmake_parse_arguments(arg "FREESTANDING" "" "USES;THIRD" ${ARGN})
  file(GLOB sources CONFIGURE_DEPENDS ${PROJECT_SOURCE_DIR}/lib/${name}/*.cpp)
  add_library(cardseal_${name} STATIC ${sources})
  target_include_directories(cardseal_${name} PUBLIC ${PROJECT_SOURCE_DIR}/lib)
  foreach(use IN LISTS arg_USES)
    target_link_libraries(cardseal_${name} PUBLIC cardseal_${use})
  endforeach()
  target_link_libraries(cardseal_${name} PRIVATE ${arg_THIRD})
  if(CARDSEAL_SANITIZE)
    # What libFuzzer follows is the modules, not the tests.
    target_compile_options(cardseal_${name} PUBLIC ${sanitizers} PRIVATE ${followed})
    target_link_options(cardseal_${name} PUBLIC -fsanitize=address,undefined)
  endif()
  if(arg_FREESTANDING)
    target_compile_options(cardseal_${name} PRIVATE -ffreestanding -fno-exceptions -fno-rtti)
    set_property(GLOBAL APPEND PROPERTY CARDSEAL_FREESTANDING ${name})
    # The same sources with base/check_switch.h on; only tests link it, and only when asked for.
    add_library(cardseal_${name}_switched STATIC EXCLUDE_FROM_ALL ${sources})
    target_include_directories(cardseal_${name}_switched PRIVATE ${PROJECT_SOURCE_DIR}/lib)
    target_compile_definitions(cardseal_${name}_switched PRIVATE CARDSEAL_CHECK_SWITCH)
  elseif(CARDSEAL_SHARED_HEADERS)
    target_link_libraries(cardseal_${name} PRIVATE fmt::fmt)
    target_precompile_headers(cardseal_${name} REUSE_FROM cardseal_desk_headers)
  endif()
endfunction()

cardseal_module(base FREESTANDING)
cardseal_module(format FREESTANDING USES base)
cardseal_module(diag USES base THIRD fmt::fmt)
cardseal_module(supply USES base)
cardseal_module(unit FREESTANDING USES base format)
cardseal_module(trust FREESTANDING USES base format)
cardseal_module(io USES base diag)
cardseal_module(loader FREESTANDING USES base format unit trust)
cardseal_module(crypto USES base diag io trust THIRD cardseal_botan)
cardseal_module(xml USES base diag io THIRD PkgConfig::TINYXML2)
cardseal_module(fat32 USES base format diag io)
cardseal_module(image USES base diag io crypto THIRD PkgConfig::ELF)
cardseal_module(seal USES base format diag io trust crypto)
cardseal_module(serial USES base diag format unit xml)
cardseal_module(profile USES base diag xml)
cardseal_module(package USES base format diag io trust crypto image seal THIRD cardseal_libarchive)
cardseal_module(register USES base format diag io crypto THIRD cardseal_sqlite)
cardseal_module(job USES base format diag supply unit io crypto xml profile serial image package)
cardseal_module(card USES base format diag io crypto trust image seal package register fat32 unit)
cardseal_module(archive USES base io crypto THIRD fmt::fmt)
cardseal_module(lot USES base format io crypto xml unit profile package register job THIRD fmt::fmt)
cardseal_module(runlog USES base format diag io crypto register fat32)
cardseal_module(trace USES base unit package register lot runlog)
cardseal_module(label USES base io crypto package register runlog trace THIRD fmt::fmt)
cardseal_module(recall USES base format diag crypto package register runlog)
cardseal_module(compare USES base format diag crypto image package card)
cardseal_module(view USES base format diag crypto image seal package register card fat32 runlog compare trace recall lot archive THIRD nlohmann_json::nlohmann_json)
cardseal_module(page USES base format diag crypto unit serial package register card compare trace runlog recall
  THIRD cardseal_ctemplate ${ZINT_LIBRARY} fmt::fmt)

# Templates, words and style sheet of the pages, as text within the module.
set(pages_cpp ${PROJECT_BINARY_DIR}/pages_embedded.cpp)
file(GLOB page_files CONFIGURE_DEPENDS ${PROJECT_SOURCE_DIR}/templates/pages/*)
add_custom_command(
  OUTPUT ${pages_cpp}
  COMMAND ${CMAKE_COMMAND} -DSOURCE=${PROJECT_SOURCE_DIR}/templates/pages -DOUTPUT=${pages_cpp}
          -P ${PROJECT_SOURCE_DIR}/lib/page/embed.cmake
  DEPENDS ${page_files} ${PROJECT_SOURCE_DIR}/lib/page/embed.cmake)
target_sources(cardseal_page PRIVATE ${pages_cpp})
