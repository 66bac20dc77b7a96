// The one place that includes the option parser, for every tool.
#pragma once

#include <CLI/CLI.hpp>
