set(test_libraries PkgConfig::ARCHIVE)
