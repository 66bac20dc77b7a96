// Only carries the precompiled headers of lib/modules.cmake.
