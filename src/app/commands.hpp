#pragma once

#include <CLI/CLI.hpp>

namespace earshot::app {

/// Each adds one command to the program; the command's work is its callback.
void add_map_command(CLI::App& app);
void add_path_command(CLI::App& app);
void add_terrain_command(CLI::App& app);
void add_net_command(CLI::App& app);
void add_relay_command(CLI::App& app);
void add_mast_command(CLI::App& app);
void add_ladder_command(CLI::App& app);
void add_range_command(CLI::App& app);
void add_walk_command(CLI::App& app);
void add_compare_command(CLI::App& app);
void add_correct_command(CLI::App& app);
void add_brief_command(CLI::App& app);
void add_start_command(CLI::App& app);

} // namespace earshot::app
