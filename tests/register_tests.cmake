# What holds the register beyond its unit tests: kills, the model, the command line.
set(python /usr/bin/python3)

add_executable(kill_desk kill/desk.cpp)
target_include_directories(kill_desk PRIVATE ${CMAKE_CURRENT_SOURCE_DIR})
target_link_libraries(kill_desk PRIVATE
  cardseal_card cardseal_card_kit cardseal_faulting_vfs cardseal_sqlite fmt::fmt)
add_test(NAME kill.register
  COMMAND ${python} ${CMAKE_CURRENT_SOURCE_DIR}/kill/run.py $<TARGET_FILE:kill_desk> 60)

add_test(NAME model.numbers COMMAND ${python} ${CMAKE_CURRENT_SOURCE_DIR}/model/run.py)

if(TARGET cardseal)
  add_test(NAME e2e.register COMMAND ${python} ${CMAKE_CURRENT_SOURCE_DIR}/e2e/register.py)
  set_tests_properties(e2e.register PROPERTIES ENVIRONMENT
    "CARDSEAL=$<TARGET_FILE:cardseal>;STATION_CHECK=$<TARGET_FILE:station-check>;SOURCE=${PROJECT_SOURCE_DIR}")
endif()
