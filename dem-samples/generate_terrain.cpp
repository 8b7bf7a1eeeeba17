// Writes invented ground for tests, benchmarks and the demonstration: the same heights on every
// machine. Shapes use only sums, products, quotients and square roots, which IEEE 754 rounds alike
// everywhere, noise comes from integer hashes, and heights are rounded to 0.1 m.

#include "base/output_file.hpp"
#include "earshot/base/error.hpp"
#include "terrain/native/gdal_errors.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>
#include <gdal_priv.h>
#include <ogr_spatialref.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <exception>
#include <span>
#include <string>
#include <vector>

namespace {

/// WGS 84 / UTM zone 33N, placed in open sea so that nobody takes it for real ground.
constexpr int utm_33n_epsg = 32633;
constexpr double west_m = 660000.0;
constexpr double north_m = 3945000.0;
constexpr double width_m = 36000.0;
constexpr double height_m = 30000.0;

struct Request {
    std::string kind;
    std::string output;
    int columns = 0; ///< 0: as many as the default extent takes
    int rows = 0;
    double cell_m = 30.0;
    std::uint64_t seed = 1;
};

/// A number in [-1, 1) for a node of a lattice: the finishing steps of a 64-bit mixing function
/// with odd multipliers, which spread each input bit over the whole word.
double hashed(std::int64_t x, std::int64_t y, std::uint64_t seed) {
    std::uint64_t bits = seed * 0x9E3779B97F4A7C15ULL + static_cast<std::uint64_t>(x);
    bits = (bits ^ (bits >> 30U)) * 0xBF58476D1CE4E5B9ULL;
    bits += static_cast<std::uint64_t>(y) * 0xD6E8FEB86659FD93ULL;
    bits = (bits ^ (bits >> 27U)) * 0x94D049BB133111EBULL;
    bits ^= bits >> 31U;
    return static_cast<double>(bits >> 11U) / 4503599627370496.0 - 1.0; // 53 bits over 2^52
}

double smooth_step(double t) {
    t = std::clamp(t, 0.0, 1.0);
    return t * t * (3.0 - 2.0 * t);
}

/// Value noise in [-1, 1): hashed numbers at the nodes of a lattice, joined smoothly.
double value_noise(double x, double y, std::uint64_t seed) {
    const double left = std::floor(x);
    const double top = std::floor(y);
    const auto i = static_cast<std::int64_t>(left);
    const auto j = static_cast<std::int64_t>(top);
    const double across = smooth_step(x - left);
    const double down = smooth_step(y - top);
    const double a = hashed(i, j, seed);
    const double b = hashed(i + 1, j, seed);
    const double c = hashed(i, j + 1, seed);
    const double d = hashed(i + 1, j + 1, seed);
    const double above = a + across * (b - a);
    const double below = c + across * (d - c);
    return above + down * (below - above);
}

/// Octaves of noise from `longest_m` down to `shortest_m`, each of half the wavelength and
/// `persistence` of the amplitude of the one before.
double fractal(double x_m, double y_m, double longest_m, double shortest_m, double persistence,
               std::uint64_t seed) {
    double sum = 0.0;
    double amplitude = 1.0;
    double wavelength = longest_m;
    while (wavelength >= shortest_m) {
        sum += amplitude * value_noise(x_m / wavelength, y_m / wavelength, seed);
        amplitude *= persistence;
        wavelength /= 2.0;
        ++seed;
    }
    return sum;
}

/// A bend of a line on the demonstration's map: km east and north of its south-west corner.
struct Bend {
    double east_km;
    double north_km;
    double value_m; ///< height of a stream's floor, or of a ridge above the hills
};

/// Where a line passes a position: how far off, and its value thereabouts.
struct Passing {
    double distance_km;
    double value_m;
};

/// The value is weighted over all stretches of the line, since that of the nearest alone would
/// jump, and leave a cliff, where two stretches are equally near.
Passing nearest(std::span<const Bend> line, double east_km, double north_km) {
    double least_squared = 1e18;
    double weights = 0.0;
    double sum = 0.0;
    for (std::size_t k = 0; k + 1 < line.size(); ++k) {
        const double dx = line[k + 1].east_km - line[k].east_km;
        const double dy = line[k + 1].north_km - line[k].north_km;
        const double along =
            ((east_km - line[k].east_km) * dx + (north_km - line[k].north_km) * dy) /
            (dx * dx + dy * dy);
        const double t = std::clamp(along, 0.0, 1.0);
        const double off_x = east_km - (line[k].east_km + t * dx);
        const double off_y = north_km - (line[k].north_km + t * dy);
        const double squared = off_x * off_x + off_y * off_y;
        const double weight = 1.0 / ((squared + 0.01) * (squared + 0.01));
        least_squared = std::min(least_squared, squared);
        weights += weight;
        sum += weight * (line[k].value_m + t * (line[k + 1].value_m - line[k].value_m));
    }
    return {std::sqrt(least_squared), sum / weights};
}

struct Stream {
    double floor_half_width_km;
    double slope_width_km; ///< where the valley side has risen by half
    double side_height_m;
    std::vector<Bend> bends;
};

const std::vector<Stream>& streams() {
    static const std::vector<Stream> all{
        {0.45,
         1.9,
         430.0,
         {{11, 30, 420},
          {13, 25, 360},
          {16, 20, 310},
          {14, 14, 265},
          {18, 8, 225},
          {25, 5, 190},
          {36, 4, 165}}},
        {0.10, 1.0, 430.0, {{6.0, 23.0, 640}, {9, 21.5, 470}, {12, 20.6, 370}, {15.5, 19, 302}}},
        {0.12, 1.2, 430.0, {{8.5, 9.5, 560}, {11.5, 12.2, 350}, {14.4, 13, 262}}},
        {0.15, 1.4, 430.0, {{26.5, 25, 640}, {21.5, 22, 410}, {18.5, 20.6, 335}, {16, 19.6, 308}}},
        {0.12, 1.2, 430.0, {{24.5, 15.5, 540}, {19.5, 12.8, 340}, {16, 11.2, 248}}},
        {0.15, 1.3, 400.0, {{6.5, 3.0, 440}, {12, 5, 300}, {18.6, 7.6, 222}}},
    };
    return all;
}

constexpr std::array<Bend, 6> ridge{{{3.0, 30, 330},
                                     {4.2, 24, 400},
                                     {4.6, 18.5, 470},
                                     {6.4, 13, 420},
                                     {5.0, 8, 370},
                                     {3.0, 0, 260}}};
constexpr double summit_east_km = 4.8;
constexpr double summit_north_km = 17.1;
constexpr double summit_above_ridge_m = 170.0;

/// 1 on a line, one half at `half_width_km` from it.
double bell(double distance_km, double half_width_km) {
    const double ratio = distance_km / half_width_km;
    return 1.0 / (1.0 + ratio * ratio);
}

/// The lesser of two heights, with the crease between them rounded over `blend`.
double smooth_minimum(double a, double b, double blend) {
    const double nearness = std::max(0.0, blend - std::abs(a - b)) / blend;
    return std::min(a, b) - nearness * nearness * blend / 4.0;
}

/// The demonstration: a river with side valleys, a long ridge in the west with one summit, and a
/// plain in the south-east.
double valley_m(double x_m, double y_m, std::uint64_t seed) {
    const double map_east_km = x_m / 1000.0;
    const double map_north_km = (height_m - y_m) / 1000.0;
    // Streams and ridges drawn with straight lines come to wind when the ground is bent a little.
    const double east_km = map_east_km + 0.8 * fractal(x_m, y_m, 3500.0, 400.0, 0.45, seed + 300);
    const double north_km = map_north_km + 0.8 * fractal(x_m, y_m, 3500.0, 400.0, 0.45, seed + 400);
    double hills = 1e9;
    double off_streams_km = 1e9;
    for (const Stream& stream : streams()) {
        const Passing passing = nearest(stream.bends, east_km, north_km);
        const double off_floor_km = std::max(0.0, passing.distance_km - stream.floor_half_width_km);
        const double side =
            stream.side_height_m * (1.0 - bell(off_floor_km, stream.slope_width_km));
        hills = smooth_minimum(hills, passing.value_m + side, 60.0);
        off_streams_km = std::min(off_streams_km, off_floor_km);
    }
    // Valley floors stay smooth, slopes get rough.
    const double roughness = smooth_step(off_streams_km / 1.5);
    hills += roughness * 75.0 * fractal(x_m, y_m, 3000.0, 90.0, 0.5, seed) +
             2.0 * fractal(x_m, y_m, 400.0, 90.0, 0.5, seed + 100);
    const Passing crest = nearest(ridge, east_km, north_km);
    hills += smooth_step(off_streams_km / 0.8) * crest.value_m * bell(crest.distance_km, 1.1);
    const double from_summit_km =
        std::sqrt((map_east_km - summit_east_km) * (map_east_km - summit_east_km) +
                  (map_north_km - summit_north_km) * (map_north_km - summit_north_km));
    hills += summit_above_ridge_m * bell(from_summit_km, 0.35);
    const double plain = 170.0 + 4.0 * fractal(x_m, y_m, 4000.0, 250.0, 0.5, seed + 200);
    const double share = smooth_step((east_km - 23.0) / 5.0) * smooth_step((12.0 - north_km) / 4.0);
    return hills + share * (plain - hills);
}

double flat_m(double x_m, double y_m, std::uint64_t seed) {
    return 50.0 + value_noise(x_m / 3000.0, y_m / 3000.0, seed);
}

double rough_m(double x_m, double y_m, double cell_m, std::uint64_t seed) {
    return 600.0 + 280.0 * fractal(x_m, y_m, 8000.0, 2.0 * cell_m, 0.5, seed);
}

// Codes of ESA WorldCover.
constexpr float tree_cover = 10.0F;
constexpr float grassland = 30.0F;
constexpr float cropland = 40.0F;
constexpr float built_up = 50.0F;

constexpr double town_east_km = 31.0; // Quorrel
constexpr double town_north_km = 4.75;
constexpr double town_radius_km = 1.1;

/// What grows on the valley: woods in patches, mostly on the slopes, fields on the low ground.
float valley_cover(double x_m, double y_m, std::uint64_t seed) {
    constexpr double low_m = 260.0;
    constexpr double tree_line_m = 1000.0;
    const double east_km = x_m / 1000.0 - town_east_km;
    const double north_km = (height_m - y_m) / 1000.0 - town_north_km;
    const double patch = fractal(x_m, y_m, 2500.0, 120.0, 0.55, seed + 500);
    if (std::sqrt(east_km * east_km + north_km * north_km) < town_radius_km + 0.3 * patch) {
        return built_up;
    }
    const double ground_m = valley_m(x_m, y_m, seed);
    if (ground_m < low_m) {
        return patch > 0.55 ? tree_cover : cropland;
    }
    return patch > 0.0 && ground_m < tree_line_m ? tree_cover : grassland;
}

bool is_cover(const Request& request) {
    return request.kind == "valley-cover";
}

float height_at(const Request& request, double x_m, double y_m) {
    const double height = request.kind == "valley" ? valley_m(x_m, y_m, request.seed)
                          : request.kind == "flat"
                              ? flat_m(x_m, y_m, request.seed)
                              : rough_m(x_m, y_m, request.cell_m, request.seed);
    return static_cast<float>(std::round(height * 10.0) / 10.0);
}

float value_at(const Request& request, double x_m, double y_m) {
    return is_cover(request) ? valley_cover(x_m, y_m, request.seed) : height_at(request, x_m, y_m);
}

[[noreturn]] void cannot_write(const Request& request, const earshot::terrain::GdalErrors& errors) {
    earshot::throw_output(fmt::format("cannot write {}: {}", request.output, errors.reason()));
}

void describe(GDALDataset& dataset, const Request& request) {
    OGRSpatialReference crs;
    crs.importFromEPSG(utm_33n_epsg);
    dataset.SetSpatialRef(&crs);
    std::array<double, 6> transform{west_m, request.cell_m, 0.0, north_m, 0.0, -request.cell_m};
    dataset.SetGeoTransform(transform.data());
    const std::string notice = fmt::format("INVENTED TERRAIN: {}, seed {}; no such place exists",
                                           request.kind, request.seed);
    dataset.SetMetadataItem("TIFFTAG_IMAGEDESCRIPTION", notice.c_str());
    dataset.SetMetadataItem("INVENTED_TERRAIN", "YES");
    if (!is_cover(request)) {
        dataset.GetRasterBand(1)->SetUnitType("metre");
    }
    dataset.GetRasterBand(1)->SetDescription("INVENTED TERRAIN");
}

void generate(Request request) {
    if (request.columns == 0) {
        request.columns = static_cast<int>(std::ceil(width_m / request.cell_m));
    }
    if (request.rows == 0) {
        request.rows = static_cast<int>(std::ceil(height_m / request.cell_m));
    }
    earshot::OutputFile output(request.output);
    const earshot::terrain::GdalErrors errors;
    GDALDriver* driver = GetGDALDriverManager()->GetDriverByName("GTiff");
    const char* const options[] = {"COMPRESS=DEFLATE",
                                   is_cover(request) ? "PREDICTOR=1" : "PREDICTOR=3", "TILED=YES",
                                   "BIGTIFF=IF_SAFER", nullptr};
    GDALDatasetUniquePtr dataset(
        driver == nullptr
            ? nullptr
            : driver->Create(output.temporary().c_str(), request.columns, request.rows, 1,
                             is_cover(request) ? GDT_Byte : GDT_Float32,
                             // GDAL's older interfaces take options as char**.
                             const_cast<char**>(static_cast<const char* const*>(options))));
    if (!dataset) {
        cannot_write(request, errors);
    }
    describe(*dataset, request);
    std::vector<float> line(static_cast<std::size_t>(request.columns));
    for (int row = 0; row < request.rows; ++row) {
        for (int column = 0; column < request.columns; ++column) {
            line[static_cast<std::size_t>(column)] =
                value_at(request, (column + 0.5) * request.cell_m, (row + 0.5) * request.cell_m);
        }
        if (dataset->GetRasterBand(1)->RasterIO(GF_Write, 0, row, request.columns, 1, line.data(),
                                                request.columns, 1, GDT_Float32, 0, 0,
                                                nullptr) != CE_None) {
            cannot_write(request, errors);
        }
    }
    dataset.reset();
    if (errors.failed()) {
        cannot_write(request, errors);
    }
    output.commit();
}

} // namespace

int main(int argc, char** argv) {
    Request request;
    CLI::App app("Writes invented ground as a GeoTIFF, the same on every machine");
    app.add_option("kind", request.kind,
                   "valley, valley-cover (what grows on it, in codes of ESA WorldCover), flat "
                   "(undulates by a metre) or rough (hills)")
        ->required()
        ->check(CLI::IsMember({"valley", "valley-cover", "flat", "rough"}));
    app.add_option("output", request.output, "GeoTIFF to write")->required();
    app.add_option("--columns", request.columns, "Columns; by default as many as 36 km take")
        ->check(CLI::Range(1, 1000000));
    app.add_option("--rows", request.rows, "Rows; by default as many as 30 km take")
        ->check(CLI::Range(1, 1000000));
    app.add_option("--cell-m", request.cell_m, "Side of a cell, in metres")
        ->check(CLI::Range(0.1, 10000.0))
        ->capture_default_str();
    app.add_option("--seed", request.seed, "Another seed gives other ground of the same kind")
        ->capture_default_str();
    CLI11_PARSE(app, argc, argv);
    try {
        generate(request);
        return 0;
    } catch (const earshot::Error& error) {
        fmt::print(stderr, "earshot-generate-terrain: {}\n", error.what());
        return static_cast<int>(error.fault());
    } catch (const std::exception& error) {
        fmt::print(stderr, "earshot-generate-terrain: {}\n", error.what());
        return static_cast<int>(earshot::Fault::internal);
    }
}
