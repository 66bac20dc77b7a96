set(test_libraries nlohmann_json::nlohmann_json)
