set(test_libraries PkgConfig::SQLITE cardseal_card_kit cardseal_faulting_vfs)
add_library(cardseal_faulting_vfs STATIC ${CMAKE_CURRENT_SOURCE_DIR}/support/faulting_vfs.cpp)
target_include_directories(cardseal_faulting_vfs PUBLIC ${CMAKE_CURRENT_SOURCE_DIR})
target_link_libraries(cardseal_faulting_vfs PUBLIC PkgConfig::SQLITE)
