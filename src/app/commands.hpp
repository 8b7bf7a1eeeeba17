#pragma once

namespace earshot::app {

class Program;

/// Each adds one command to the program.
void add_map_command(Program& program);
void add_path_command(Program& program);
void add_terrain_command(Program& program);
void add_net_command(Program& program);
void add_relay_command(Program& program);
void add_mast_command(Program& program);
void add_ladder_command(Program& program);
void add_range_command(Program& program);
void add_walk_command(Program& program);
void add_compare_command(Program& program);
void add_correct_command(Program& program);
void add_brief_command(Program& program);
void add_start_command(Program& program);

} // namespace earshot::app
