add_library(cardseal_card_kit STATIC ${CMAKE_CURRENT_SOURCE_DIR}/support/card_kit.cpp)
target_include_directories(cardseal_card_kit PUBLIC ${CMAKE_CURRENT_SOURCE_DIR})
target_link_libraries(cardseal_card_kit PUBLIC cardseal_crypto cardseal_fat32 cardseal_trust)
# A station in C99 that knows the C interface and nothing else.
add_library(cardseal_c_station STATIC ${CMAKE_CURRENT_SOURCE_DIR}/support/c_station.c)
set_target_properties(cardseal_c_station PROPERTIES
  C_STANDARD 99 C_STANDARD_REQUIRED ON C_EXTENSIONS OFF)
target_compile_options(cardseal_c_station PRIVATE -Werror)
target_include_directories(cardseal_c_station PUBLIC ${PROJECT_SOURCE_DIR}/lib/loader)
target_link_libraries(cardseal_c_station PUBLIC cardseal_loader)
set(test_libraries cardseal_card_kit cardseal_c_station)
# Sanitized, the program's two large headers take longer than everything else of this module; what
# it calls is sanitized all the same.
if(NOT CARDSEAL_SANITIZE)
  target_compile_definitions(cardseal_card_kit INTERFACE
    CARDSEAL_STATION_CHECK="$<TARGET_FILE:station-check>")
  add_dependencies(cardseal_card_kit station-check)
endif()
