#include "propagation/p1812.hpp"

namespace earshot::propagation {

std::vector<ExplainedValue> explain(const P1812Result& r) {
    const PathGeometry& g = r.geometry;
    const Ducting& duct = r.ducting;
    std::vector<ExplainedValue> list{
        {"d", "sec. 3.7", g.distance_km, "km", "path length"},
        {"hts", "table 5", g.transmitter_asl_m, "m", "transmitting antenna above sea level"},
        {"hrs", "table 5", g.receiver_asl_m, "m", "receiving antenna above sea level"},
        {"ae", "(7a)", g.radii.median_km, "km", "effective earth radius for half of the time"},
        {"abeta", "(7b)", g.radii.beta_km, "km", "effective earth radius for beta0 of the time"},
        {"w", "table 5", g.sea_fraction, "", "share of the path over sea"},
        {"dtm", "sec. 3.6", g.longest_land_km, "km", "longest stretch over land"},
        {"dlm", "sec. 3.6", g.longest_inland_km, "km", "longest stretch over inland zone"},
        {"phi", "(4)", r.inputs.path_centre_latitude_deg, "deg", "latitude of the path centre"},
        {"tau", "(3)", duct.tau, "", "inland influence on ducting"},
        {"mu1", "(2)", r.mu1, "", "land influence on ducting"},
        {"mu4", "(4)", r.mu4, "", "latitude influence on ducting"},
        {"b0", "(5)", r.beta0_percent, "%", "share of time with ducting near the ground"},
        {"dlt", "(78)", g.transmitter_horizon_km, "km", "transmitter to its horizon"},
        {"dlr", "(81a)", g.receiver_horizon_km, "km", "receiver to its horizon"},
        {"th_t", "(76-78)", g.transmitter_angle_mrad, "mrad", "elevation of transmitter's horizon"},
        {"th_r", "(79-81)", g.receiver_angle_mrad, "mrad", "elevation of receiver's horizon"},
        {"th", "(82)", g.angular_distance_mrad, "mrad", "angle between the horizon rays"},
        {"hst", "(85)", g.fitted_transmitter_m, "m", "fitted ground at the transmitter"},
        {"hsr", "(86)", g.fitted_receiver_m, "m", "fitted ground at the receiver"},
        {"hst", "(90a)", g.smooth_transmitter_m, "m", "the same, not above the ground"},
        {"hsr", "(90b)", g.smooth_receiver_m, "m", "the same, not above the ground"},
        {"hstd", "(89)", g.diffraction_transmitter_m, "m", "smooth surface for diffraction"},
        {"hsrd", "(89)", g.diffraction_receiver_m, "m", "smooth surface for diffraction"},
        {"htc'", "(37a)", g.diffraction_height_transmitter_m(), "m", "transmitter above it"},
        {"hrc'", "(37b)", g.diffraction_height_receiver_m(), "m", "receiver above it"},
        {"hte", "(92a)", g.ducting_height_transmitter_m(), "m", "transmitter above fitted ground"},
        {"hre", "(92b)", g.ducting_height_receiver_m(), "m", "receiver above fitted ground"},
        {"hm", "(93)", g.roughness_m, "m", "roughness between the horizons"},
        {"Lbfs", "(8)", r.free_space_db, "dB", "free space"},
        {"Esp", "(9a)", r.multipath_p_db, "dB", "multipath and focusing"},
        {"Esb", "(9b)", r.multipath_beta_db, "dB", "multipath and focusing, beta0 of the time"},
        {"Lb0p", "(10)", r.los_p_db, "dB", "line of sight"},
        {"Lb0b", "(11)", r.los_beta_db, "dB", "line of sight, beta0 of the time"},
    };
    const auto nu_equation = [](const BullingtonTerms& terms) {
        return terms.line_of_sight() ? "(15)" : "(19)";
    };
    const auto add_diffraction = [&](const DeltaBullington& d, const BullingtonTerms& actual,
                                     const BullingtonTerms& smooth) {
        list.insert(
            list.end(),
            {{"Stim", "(13)", actual.transmitter_slope, "m/km", "steepest slope, transmitter"},
             {"Str", "(14)", actual.direct_slope, "m/km", "slope from transmitter to receiver"},
             {"nu", nu_equation(actual), d.actual_nu, "", "diffraction parameter of the ground"},
             {"Lbulla", "(21)", d.actual_loss_db, "dB", "Bullington loss of the ground"},
             {"nu_s", nu_equation(smooth), d.smooth_nu, "",
              "diffraction parameter of the smooth path"},
             {"Lbulls", "(21)", d.smooth_loss_db, "dB", "Bullington loss of the smooth path"},
             {"Ldsph", "(27)", d.spherical.loss_db, "dB", "spherical-earth loss"},
             {"Lbeside", "-", d.beside_db, "dB", "ground beside low antennas; not in P.1812"}});
    };
    add_diffraction(r.median, g.actual_median, g.smooth_median);
    list.push_back({"Ld50", "(39)", r.median.loss_db, "dB", "diffraction, half of the time"});
    add_diffraction(r.beta, g.actual_beta, g.smooth_beta);
    list.insert(
        list.end(),
        {{"Ldb", "(39)", r.beta.loss_db, "dB", "diffraction, beta0 of the time"},
         {"Fi", "(40)", r.time_interpolation, "", "interpolation in time"},
         {"Ldp", "(41)", r.diffraction_p_db, "dB", "diffraction"},
         {"Lbd50", "(42)", r.diffraction_median_basic_db, "dB",
          "with free space, half of the time"},
         {"Lbd", "(43)", r.diffraction_basic_db, "dB", "diffraction with line of sight"},
         {"Lbs", "(44)", r.troposcatter_db, "dB", "troposcatter"},
         {"Alf", "(47a)", duct.wavelength_correction_db, "dB", "long waves in ducts"},
         {"Ast", "(48)", duct.transmitter_shielding_db, "dB", "transmitter's hills"},
         {"Asr", "(48)", duct.receiver_shielding_db, "dB", "receiver's hills"},
         {"Act", "(49)", duct.transmitter_coupling_db, "dB", "transmitter near the sea"},
         {"Acr", "(49)", duct.receiver_coupling_db, "dB", "receiver near the sea"},
         {"Af", "(47)", duct.fixed_loss_db, "dB", "coupling into the duct"},
         {"gamma_d", "(51)", duct.specific_attenuation_db_mrad, "dB/mrad", "attenuation in it"},
         {"th'", "(52)", duct.angular_distance_mrad, "mrad", "angle in it"},
         {"alpha", "(55a)", duct.alpha, "", "exponent of path geometry"},
         {"mu2", "(55)", duct.mu2, "", "path geometry"},
         {"mu3", "(56)", duct.mu3, "", "roughness"},
         {"beta", "(54)", duct.beta_percent, "%", "share of time with ducting on this path"},
         {"Gamma", "(53a)", duct.gamma, "", "exponent in time"},
         {"A(p)", "(53)", duct.time_variability_db, "dB", "variability in time"},
         {"Ad(p)", "(50)", duct.variable_loss_db, "dB", "loss along the duct"},
         {"Lba", "(46)", duct.loss_db, "dB", "ducting and layer reflection"},
         {"Fj", "(57)", r.angle_interpolation, "", "share of line of sight"},
         {"Fk", "(58)", r.distance_interpolation, "", "share of diffraction on short paths"},
         {"Lminb0p", "(59)", r.least_los_diffraction_db, "dB", "least, line of sight and sub-path"},
         {"Lminbap", "(60)", r.least_los_ducting_db, "dB", "least, line of sight and ducting"},
         {"Lbda", "(61)", r.diffraction_ducting_db, "dB", "diffraction or ducting"},
         {"Lbam", "(62)", r.modified_db, "dB", "with line-of-sight enhancement"},
         {"Lbc", "(63)", r.median_places_db, "dB", "with troposcatter, half of the places"},
         {"sigma", "(64-68)", r.location_deviation_db, "dB", "deviation among places"},
         {"Lloc", "(67)", r.location_correction_db, "dB", "for the share of places"},
         {"Lb", "(69)", r.loss_db, "dB", "basic transmission loss"},
         {"Ep", "(70)", r.field_strength_dbuv_m, "dBuV/m", "field strength for 1 kW e.r.p."}});
    return list;
}

} // namespace earshot::propagation
