// Only carries the precompiled headers of tests/CMakeLists.txt.
