#pragma once

#include <vector>

namespace earshot::report {

/// A rectangle on the picture, in pixels from its upper left corner.
struct Box {
    double x = 0.0;
    double y = 0.0;
    double width = 0.0;
    double height = 0.0;

    [[nodiscard]] double right() const { return x + width; }
    [[nodiscard]] double bottom() const { return y + height; }
};

[[nodiscard]] double overlap_area(const Box& a, const Box& b);

/// The widths of a map picture: the map at the left, words in a panel at the right of it.
struct PictureColumns {
    double unit = 1.0; ///< 1 at 1600 px; lines and letters are sized in it
    double margin = 0.0;
    double map_area_width = 0.0;
    double panel_width = 0.0;
    int map_width = 0; ///< whole pixels; less than the area if the map is very tall
    int map_height = 0;
};

/// `aspect` is the map's height over its width on the ground.
[[nodiscard]] PictureColumns picture_columns(int width_px, double aspect);

/// Heights of what was set in type.
struct SetHeights {
    double header = 0.0;
    double panel = 0.0;
    double footer = 0.0;
};

struct PictureLayout {
    int width = 0;
    int height = 0;
    Box header, map, panel, footer;
};

[[nodiscard]] PictureLayout lay_out_picture(int width_px, const PictureColumns& columns,
                                            const SetHeights& heights);

/// The longest of 1, 2 or 5 times a power of ten that is at most `most`.
[[nodiscard]] double round_length(double most);

/// A place for a label of the given size beside a mark: inside `frame` (as far as it fits at all)
/// and, if there is such a place, clear of everything in `taken`.
[[nodiscard]] Box place_label(const Box& frame, const Box& mark, double width, double height,
                              double gap, const std::vector<Box>& taken);

} // namespace earshot::report
