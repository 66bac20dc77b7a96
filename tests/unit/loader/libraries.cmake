add_library(cardseal_card_kit STATIC ${CMAKE_CURRENT_SOURCE_DIR}/support/card_kit.cpp)
target_include_directories(cardseal_card_kit PUBLIC ${CMAKE_CURRENT_SOURCE_DIR})
target_link_libraries(cardseal_card_kit PUBLIC cardseal_crypto cardseal_fat32 cardseal_trust)
set(test_libraries cardseal_card_kit)
# Sanitized, the program's two large headers take longer than everything else of this module; what
# it calls is sanitized all the same.
if(NOT CARDSEAL_SANITIZE)
  target_compile_definitions(cardseal_card_kit INTERFACE
    CARDSEAL_STATION_CHECK="$<TARGET_FILE:station-check>")
  add_dependencies(cardseal_card_kit station-check)
endif()
