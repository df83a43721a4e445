"""The terms of the glossary: `curves explain` prints them, and the page and README quote them.

A measure's own sentence stands in the table of measures; how the measure is found, its source and a remark stand here.
"""

from __future__ import annotations

from dataclasses import dataclass

from curves.sensitometry.core.choices import DRAWS, MOST_DRAWS
from curves.sensitometry.measures.table import MEASURES


@dataclass(frozen=True)
class Term:
    """One entry of the glossary.

    Attributes:
        name: the term as a person writes it.
        what: the definition, in a sentence or two.
        found: the way in which this package finds the number, with its formula if it has one.
        source: the source of the definition.
        remark: what the term is often confused with, or a limit of the number.
        keys: the JSON keys that carry the number.
    """

    name: str
    what: str
    found: str = ""
    source: str = ""
    remark: str = ""
    keys: tuple[str, ...] = ()


_DETAIL = {
    "dmin": ("A measured patch and the end of the strip beside it, weighted by their variances, an end that still moves"
             " the less; without a patch the end alone, where the curve has flattened (it moves less than 0.03 over the"
             " last stop), and what it may have left to move is drawn; else a bound.",
             "own choice of the 0.03 and of what an end has left to move",
             "It is not the base: fog and dye add to it."),
    "dmax": ("As Dmin, at the other end.", "", "It is not what the film could give in another process."),
    "dmax_reached": ("The fitted curve at the dense end of the strip.", "", "A Dmax only where the curve is flat."),
    "base": ("From the base patch: film with no image and no fog.", "", ""),
    "veil": ("Dmin - base.", "", "It is not all fog: in a colour negative a masking dye is part of it."),
    "gamma": ("The gradient is averaged over 0.60 log H (two stops) about every place; gamma is its mean over the"
              " longest run of places where it is at least 90 % of its greatest.",
              "own choice of the two stops and the 90 %", "It is not the average gradient, which joins two points."),
    "average_gradient": ("(D2 - D1) / (log H2 - log H1).", "standards use 1.30 and 1.50 log H", "It is not gamma."),
    "average_gradient_net": ("(2.00 - 0.25) / (log H2 - log H1); no value where the curve never reaches 2.00.",
                             "radiography (ISO 5799), from memory", "It is not the 1.30 gradient."),
    "average_gradient_130": ("Density gained over 1.30 log H from net density 0.10, over 1.30.", "handbooks of"
                             " sensitometry", "It is not gamma."),
    "average_gradient_150": ("Density gained over 1.50 log H from net density 0.10, over 1.50.", "handbooks of"
                             " sensitometry; the interval of the fractional gradient", "It is not gamma."),
    "gradient_highlights": ("The chord from half a stop before T to half a stop after it.", "own choice of the stop",
                            "It is not gamma: highlights lie on the toe, which is flatter."),
    "gradient_mid_tones": ("The chord from half a stop before M to half a stop after.", "own choice of the stop", ""),
    "gradient_shadows": ("The chord from half a stop before S to half a stop after it.", "own choice of the stop", ""),
    "toe_stops": ("From net density 0.04 (reversal) or 0.10 (negative) to the thin end of the straight-line part.",
                  "own choice of the ends, those of the range", "Toe, straight-line part and shoulder make the range."),
    "straight_stops": ("From the first to the last place of that run.", "own choice of the two stops and the 90 %",
                       "Its interval held 94 to 98 % of simulated truths, but 53 to 97 % where a curve ends in a"
                       " corner."),
    "shoulder_stops": ("From the dense end of the straight-line part to 90 % of Dmax - Dmin.",
                       "own choice of the ends, those of the range", ""),
    "contrast_index": ("The line passes through an origin on the base-plus-fog line; equal units on both axes. A"
                       " reversal curve is mirrored.", "handbooks of sensitometry", ""),
    "range_stops": ("From net density 0.04 (reversal) or 0.10 (negative) to 90 % of Dmax - Dmin, over 0.30103.",
                    "0.04 is the highlight limit of ISO 6846; 90 % is our own choice", "It is not the scene's range."),
}  # fmt: skip


def _measures() -> tuple[Term, ...]:
    """Return the measures of the table as terms."""
    terms = []
    for measure in MEASURES:
        found, source, remark = _DETAIL.get(measure.key, ("", "", ""))
        terms.append(Term(measure.label, measure.what, found, source, remark, (measure.key,)))
    return tuple(terms)


TERMS: tuple[Term, ...] = (
    Term("wedge", "A step tablet: a ladder of known densities that the film is exposed through.",
         "Its densities are nominal (steps, increment) or calibrated step by step."),
    Term("strip", "One exposed and processed wedge, or bracket, and all that is known about it.",
         keys=("strips", "title", "format")),
    Term("step", "One patch of the strip, numbered from 1 at the wedge's clear end.",
         "Rows with the same step are repeats: their mean is fitted, weighted by their number.",
         keys=("step", "steps", "label", "repeats")),
    Term("channel", "Red, green, blue or visual density.",
         "Visual density that was not read is estimated: -log10(0.33 x 10^-Dr + 0.655 x 10^-Dg + 0.015 x 10^-Db).",
         "rms error 0.04 on the dyes of five transparency films (open target data)",
         keys=("channel", "channels", "red", "green", "blue", "visual", "estimated")),
    Term("density", "log10 of one over the transmittance: 0.30 passes half the light, 1.0 a tenth, 2.0 a hundredth.",
         "As read: status A, status M, visual or scan, each with an entry of its own.", "ISO 5",
         "Densities of different kinds are not the same numbers; nothing is converted in silence.", ("density",)),
    Term("status A", "Red, green and blue density through the filters for pictures that are looked at or projected.",
         "For transparencies: their curves, cast and Dmin. With a visual column beside it, for ISO 2240 too.",
         "ISO 5-3", "It does not serve ISO 5800, which asks for status M; for ISO 2240 it is only a stand-in."),
    Term("status M", "Red, green and blue density through the filters for negatives that are printed.",
         "For colour negatives: their curves and ISO 5800.", "ISO 5-3",
         "It does not show how a transparency looks: its bands are those of printing paper, not of the eye."),
    Term("visual density", "Density as the eye sees it: one number for all colours together.",
         "For black and white, for ISO 6 and ISO 2240, and to judge whether a film clears.", "ISO 5-3",
         "It says nothing of single layers."),
    Term("scan density", "Density by a scanner's own red, green and blue light.",
         "Compares strips read on the same scanner with the same settings; contrast and speed points follow the"
         " scanner's scale. From the mean light of each patch, by clear and dark, or by a calibration wedge.", "",
         "No standard's speed is taken from it: every result says so."),
    Term("open gate", "The place of the film with no film in it: all the light that can come through.",
         "Density is counted from it: a densitometer is zeroed on it, and a scan needs it as clear, an empty part of"
         " the picture or a scan of nothing.", "common practice"),
    Term("clear and dark", "What a scanner records of the empty gate, and of no light at all.",
         "Apparent transmittance = (light - dark) / (clear - dark), on numbers in proportion to light."),
    Term("calibration wedge", "A wedge of known densities, scanned with the strip's own settings.",
         "Flare is the amount of light that, taken off, brings its densities best in line; a monotone curve maps what"
         " is left to density. For another frame, flare goes with the mean light of the picture.",
         "own choice of the model", "It is not the wedge that the film was exposed through, though it may be the same.",
         ("by_wedge",)),
    Term("matched density", "A camera's density brought near a densitometer's, by patches that both have read.",
         "A 3 x 3 matrix on densities above the thinnest patch, with a bend: what is usual of dyes and bands, as far as"
         " the patches do not show better. The residual is by what the others miss a patch, left out in turn."
         " directions: of three directions of colour, those that the patches fix; a grey scale fixes one. matrix holds"
         " the row of each of red, green and blue, matrix_u its standard uncertainties, status the kind.",
         "own choice of the model and of what is usual",
         "It is not a densitometer's own: no standard's speed conforms by it.",
         ("status_match", "status", "directions", "matrix", "matrix_u")),
    Term("scan flare", "Light scattered in lens and gate, added to all of a picture: it makes dense film look thinner.",
         "Taken out where a calibration wedge tells it. Without one, 0.1 % of it takes 0.04 off density 2.0 and 0.12"
         " off 2.5, so densities above about 2 are suspect.", "follows from the definition of density",
         "It is not the flare of the camera that exposed the strip."),
    Term("scanned patch", "An area of a scan that is measured: the middle 60 % of a step, or a rectangle.",
         "Its light is averaged, not its density: grain would make the mean of densities too great. Dust and scratches"
         " are left out by share; uncertainty is that of the mean light, by how parts of the patch differ, and of the"
         " calibration.", "own choice of the 60 %", "",
         ("scan", "patches", "corners", "unevenness", "clipped", "dust", "flags", "page")),
    Term("Callier factor", "Specular over diffuse density of the same patch: above 1 where grains scatter light.",
         "Off unless the record says [reader] callier = 1.3: then every reading and patch is divided by it before"
         " anything else, and results say so. Dyes scatter little and need no factor.", "handbooks of sensitometry",
         "It is not a constant of a film: it changes with grain and density, so one factor is an approximation."),
    Term("rms granularity", "Graininess in a number: 1000 x the standard deviation of density through a small circle.",
         "Through 48 um at a visual density of 1.0 unless asked otherwise. Light is averaged over the circle and then"
         " turned into density; trend, dust and the scanner's noise are removed.", "ISO 10505",
         "It is not what the eye sees at some enlargement; and numbers through different apertures do not"
         " compare.", ("granularity", "aperture_um")),
    Term("Selwyn's law", "Standard deviation of density times the aperture's diameter is constant for small grain.",
         "Used as a check: where the product grows with the diameter, mottle or uneven light is in the number.",
         "literature of granularity",
         keys=("uneven",)),
    Term("scanner's noise", "Scatter that the scanner adds to a picture; it looks like grain.",
         "Subtracted by a frame of the empty gate and a frame without light. With the first frame alone the interval is"
         " wider; with neither frame a note says that the noise is in the number.",
         keys=("noise_known", "scanner_noise", "with_noise")),
    Term("films compared", "The verdict on which of two films has finer grain, at one aperture and one visual density.",
         "They differ if the 95 % interval of the ratio of their granularities leaves out 1, widened for all pairs"
         " together. A patch is worth as many independent readings as their own correlation allows.",
         "own choice", "Where one scan was sharpened or smoothed and the other was not, there is no verdict.",
         ("films", "verdicts", "finer", "ratio", "sentence", "independent_readings", "set_aside", "refused",
          "processing", "visual_estimated", "dpi")),
    Term("spectral density", "Density computed from a transmittance by wavelength.",
         "Not computed here: no published source gives the weights of the standard's spectral products, and guessed"
         " weights would look exact. Enter densities as an instrument reads them."),
    Term("log H", "log10 of exposure. It counts from one lux-second where the light was known, from metered mid-grey"
         " where a meter set the exposure, and is relative where nothing states what it counts from.",
         "Contact: log10(lux x seconds) - wedge density. Camera: from the metered step, with flare added. Frames:"
         " 0.30103 for each stop. Given: as the readings list it, counted from what [exposure] log_h states.",
         remark="Relative log H gives no index and no speed of a standard; Dmin, Dmax, contrast, range and the distance"
         " between the layers do not depend on what log H counts from.", keys=("log_h", "log_h_unit")),
    Term("contact", "A way to expose a strip: the wedge lies on the film, under a light of known lux for a known time.",
         "log10(lux x seconds) - wedge density. The record has [exposure] method = \"contact\", lux and seconds.",
         "common practice", "The lux are those that fall on the wedge, not those of the lamp."),
    Term("camera", "A way to expose a strip: a back-lit wedge is photographed, and the meter reads one of its steps.",
         "Relative to that step; the lens adds flare. The record has method = \"camera\", ei and metered_step.",
         "common practice", "Flare lightens the dense steps: state it, or some is assumed."),
    Term("frames", "A way to expose a strip: a grey card is photographed in a bracket, one frame for each exposure.",
         "0.30103 for each stop from the metered frame. The record has method = \"frames\" and ei; the table a column"
         " stops, or ei; and it may have columns frame, stack and judgement.", "common practice",
         "Shutter and diaphragm scatter from frame to frame by 0.1 to 0.2 stops."),
    Term("judgement", "A frame as the eye finds it: too dark, right or too light.",
         "The film itself is judged. A frame looks right within half a stop of the right exposure. One judgement has a"
         " standard uncertainty of half a stop, half of its variance the same in every frame; one in fifty stands"
         " beside the wrong frame. The index by the eye alone, each index from 3 stops under to 3 stops over the frames"
         " alike before, joins that of the densities; errors that frames share stay in their draws.",
         "the half stop is common practice, the rest our own choice",
         "A record states its own eye: [exposure] judgement_uncertainty_stops and right_within_stops. More frames by"
         " one eye never give the index better than to 0.7 stops.",
         ("by_eye", "frames", "too dark", "right", "too light", "alone", "without", "apart_stops", "contradicts",
          "judgement_stops")),
    Term("lux", "The unit of the light that falls on a surface; times the seconds of exposure it makes lux-seconds.",
         "Read with a lux meter at the place of the film. The sun gives some 100,000 lux, a lit room some 300, an"
         " enlarger some 1 to 30.", "common practice", "It is not the lumens of a lamp: light spreads."),
    Term("stop", "A doubling of exposure: 0.30103 of log H. Factor = 2^stops = 10^density."),
    Term("EI", "Exposure index: the number set on the meter.",
         "Mid-grey gets H = k / EI at the film plane, k = 0.6516 K by the constant of the meter: 8.15 lux-seconds for"
         " K = 12.5, 9.12 for K = 14.", "ISO 12232, ISO 2720",
         "It is not an ISO speed: it holds for your film, process and meter.", ("ei", "metered_exposure")),
    Term("meter's constant", "K of a reflected-light meter: the exposure that the meter gives to the tone it reads.",
         "Meters are built with K = 12.5 or 14; where K is not stated, the middle of the two is used, and the"
         " difference is a source of error. On a strip of known exposure a tone that is laid on the curve needs K, and"
         " a standard's speed does not; on a metered strip a standard's speed needs K, and the tone does not.",
         "ISO 2720", keys=("meter_constant",)),
    Term("kind", "Negative: density rises with exposure. Reversal: it falls.", keys=("kind",)),
    Term("net density", "Density above Dmin."),
    *_measures(),
    Term("straight line", "The part of the curve whose slope is gamma.", keys=("straight_line",)),
    Term("curve", "Each channel is one smooth function of log H that never turns back, drawn through all its steps.",
         "A cubic spline with non-negative increments; how smooth, the readings decide: the roughness penalty has the"
         " greatest restricted likelihood. Nothing is extrapolated: what lies off the strip is a bound.",
         keys=("fitted",)),
    Term("residual", "Reading less curve. A pattern in place of scatter means that the curve is wrong there.",
         keys=("residual",)),
    Term("remark", "What to know of a reading that was kept, such as dust on a scanned patch.", keys=("remark",)),
    Term("flag", "Why a step was set aside: its reading lies off the curve of all other steps by more than chance gives"
         " on one strip in a thousand.",
         remark="A step set aside is never dropped in silence: it stays in every table.", keys=("flag",)),
    Term("interval", "The 95 % interval of a number: low to high; u is its standard uncertainty.",
         f"Every source of error is drawn, {DRAWS} times or more, and carried through curve, points and index; draws"
         f" are added until the ends settle in two digits or there are {MOST_DRAWS}.", "Monte Carlo, JCGM 101",
         "It holds for this strip and this process; the next roll will differ as well.",
         ("value", "low", "high", "u", "how", "note", "draws", "settled")),
    Term("source", "Where error comes from: readings, smoothing, the wedge step by step and as a whole, light and time"
         " or metering, flare, the reader's zero, the patches, a filter before the meter, the meter in use.",
         "Each source has a standard uncertainty and a distribution, given in the record or assumed by common practice,"
         " and marked so. Strips that share a wedge, a reader, a light or a meter share its error: their difference is"
         " free of that error.", "JCGM 100", "", ("sources", "unit", "distribution", "assumed")),
    Term("name", "The name of a source of error or of a filter.", keys=("name",)),
    Term("budget", "What each source of error contributes to a number, and its share of the variance.",
         "Each source is drawn alone, the others held at zero; shares add to 1.", "JCGM 100 and 101",
         "A small source is not worth fighting while a large one stands.",
         ("budget", "budgets", "budget_of", "stops", "share", "remedy")),
    Term("bound", "A limit on a number that the strip did not reach, with the reason and what to do.",
         remark="It is not an estimate: nothing is extrapolated.", keys=("bound", "why")),
    Term("T", "The highlight point of a reversal curve: Dmin + 0.20.", source="ISO 2240, from memory",
         keys=("T", "points", "meaning")),
    Term("S", "The shadow point of a reversal curve: Dmin + 2.00, or where the line from T touches the shoulder,"
         " whichever has the lower density.", source="ISO 2240, from memory", keys=("S",)),
    Term("M", "Halfway between T and S in log H.", keys=("M",)),
    Term("speed point", "Where a negative has risen 0.10 above Dmin.", source="ISO 6", keys=("speed",)),
    Term("reciprocity", "The rule that a film responds to light times time alone. It fails at long exposures.",
         "With [exposure] schwarzschild = p a scene metered at t seconds gets (t + 1)^(1/p) - 1, the modified law; with"
         " reciprocity = [[metered, corrected], ...] it gets the tested time, and there is none beyond the table. Below"
         " 1 s there is no correction; a strip that was itself exposed for longer has the loss in its index already.",
         "the law from memory; common practice for the second",
         "An index holds near the strip's own exposure time: from ten times longer or shorter on, a warning says so.",
         ("scene", "metered_seconds", "corrected_seconds", "tested_seconds")),
    Term("speed", "A film's speed by a standard's rule, with every reason why it may not be called the standard's.",
         "Rounded in the log: n degrees cover 10^((n-1.5)/10) to 10^((n-0.5)/10).",
         remark="Readings that meet the standard are not the whole of it: only you know whether light and processing"
         " met it too.",
         keys=("speeds", "nominal", "degrees", "conforms", "why_not", "branch")),
    Term("ISO 2240", "Speed of a colour reversal film.", "10 / Hm, Hm = sqrt(H_T x H_S).", "ISO 2240, from memory",
         keys=("iso_2240",)),
    Term("ISO 6", "Speed of a black-and-white negative.",
         "0.8 / Hm at Dmin + 0.10, if density gains 0.80 over the 1.30 log H that follow.", "ISO 6", keys=("iso_6",)),
    Term("ISO 5800", "Speed of a colour negative.",
         "sqrt(2) / Hm, Hm = sqrt(H_green x H_slowest) at Dmin + 0.15, status M.", "ISO 5800, from memory",
         keys=("iso_5800",)),
    Term("fractional gradient", "Speed from where the toe becomes steep enough for shadows, whatever the contrast.",
         "Gradient 0.3 of the average over the next 1.50 log H; quick form 0.83 - 0.86 d + 0.24 d^2 below the 0.10"
         " point.",
         "handbooks of sensitometry; quick form from memory", keys=("fractional_gradient",)),
    Term("working EI", "The exposure index to set the meter to, and the range of indexes worth using.",
         "Highlight and middle are mixed, by the share to which the film clears and holds the scene. The index is the"
         " median of this mix, cleared and shadow, limited so that mid-grey has a net density from 0.40 to 1.40 (on a"
         " film of short range from 30 to 60 % of the range). A negative's index comes from its speed point.",
         "own choice", "Films that differ a little have indexes that differ a little.",
         ("working_ei", "recommended", "basis", "reason", "advice", "criteria", "highlight_share")),
    Term("placements", "The densities on which white, mid-grey and shadow land at the index to set.",
         "holds: the tone has detail. thin: the tone has little density, a white under 0.10 above Dmin. dense: a grey"
         " that is too dark. gone: a white without detail. no texture: a shadow that is black. off the strip: the strip"
         " does not reach the tone. not known: Dmin is not known.",
         "own choice of the 0.10", keys=("placements", "net", "state")),
    Term("index of your own", "The scene at an index that you choose: where its tones land, and what is lost.",
         "beyond_stops counts how far the index lies beyond the last that keeps the detail of white, or the texture of"
         " the shadow; less than 0 is room to spare.", "",
         "It is not the index to set.", ("at", "beyond_stops")),
    Term("colour of white", "The colour that scene white has at the index to set, from the layers that clear later.",
         "Blue density left over looks yellow, green magenta, red cyan; two layers make red, green or blue. A layer"
         " counts from 0.05 beyond the thinnest, and with at least half the excess of the densest. Each draw has a"
         " colour; as many are named as hold 95 % of the draws.", "own choice of the 0.05 and the half",
         "An answer begins with it where even the low end of the distance at T is over a third of a stop.",
         ("white_cast", "colours", "excess")),
    Term("usable range", "The indexes from that at which scene white loses its detail to that at which the textured"
         " shadow loses its texture, or between the limits of mid-grey where these are closer.",
         "The ends are printed before rounding; the index to set is a step of the dial within the range.",
         remark="Where the first is above the second, the scene is longer than the film holds.",
         keys=("range", "range_ends", "range_why")),
    Term("too long a scene", "The stops by which the scene is longer than the film: no index keeps both of its ends.",
         "The index to set loses a part of either end; the two parts add to the whole. hardly_a_range: within its"
         " uncertainty the scene may or may not be longer.",
         keys=("shortfall", "too_long_stops", "hardly_a_range", "ends", "keeps", "lost_stops")),
    Term("highlight", "The criterion that lays scene white (0.70 above mid-grey) on T.",
         "EI = EI of the test x 10^-(log H of T - 0.70).", "common practice: 90 % against 18 %", keys=("highlight",)),
    Term("middle", "The criterion that gives the speed of ISO 2240, from the mean M of T and S, as the index.",
         "10 / Hm whatever the meter. Metered mid-grey then lies log10(10 / k), about 0.07, to the dense side of M."
         " Where the line from T touches two shoulders, other_middle is the index by the second.", "ISO 2240",
         keys=("middle", "other_middle")),
    Term("shadow", "The criterion that lays the textured shadow (0.90 below mid-grey) where texture ends.",
         source="common practice: three stops", keys=("shadow",)),
    Term("cleared", "The criterion that lays scene white where detail ends, net density 0.04.", source="ISO 6846",
         keys=("cleared",)),
    Term("clears", "Whether a slide's film is thin enough at its clearest for whites to be judged.",
         "Fully up to Dmin 0.14, not at all from 0.30 on, and in proportion between; true up to 0.22. White passes"
         " 100 x 10^-Dmin per cent of an open gate. held_by names the cause of a high Dmin: the base, a mask (blue"
         " density exceeds red), or fog. white_point is the light that each channel passes there: set a scan's white"
         " with it.",
         "own choice; transparency films have visual Dmin 0.08 to 0.15 (open target data)",
         keys=("clears", "held_by", "white_percent", "white_point", "veil_stops")),
    Term("layers", "The distance between the layers at T and at S, and the layer that clears last.",
         remark="A filter moves a layer along log H; it cannot mend a spread that differs between T and S.",
         keys=("layers", "t_stops", "s_stops", "last_to_clear")),
    Term("filter", "Glass or gel that holds back light. It is known by its density to each layer, and to the meter.",
         "Measured on film (source film, standard uncertainty 0.02 unless found), read on a densitometer (0.04), shown"
         " by two pictures (camera, 0.06), named by a CC value or a mired shift (nominal, 0.05), or by its factor only"
         " (half a stop, and taken as neutral). 0.04, 0.05 and 0.06 hold for strong colours; the uncertainty of a"
         " weaker colour is smaller in proportion.",
         "common practice; the proportion is our own choice",
         "A densitometer's bands are narrower than a layer: its densities are not quite the film's.",
         ("filters", "source", "uncertainty", "notes")),
    Term("CC", "The value of a colour-compensating filter: a hundred times its density to the layer it holds back.",
         "CC40 magenta has density 0.40 to the green layer; red is magenta with yellow, green cyan with yellow, blue"
         " cyan with magenta.", "convention of colour-compensating filters"),
    Term("mired", "A million over the colour temperature in kelvin; a light-balancing filter adds its shift to it.",
         "Density log10(e) x 14387.77 x shift x 1e-6 / wavelength [um] + constant, at 0.65, 0.55 and 0.44 for the"
         " layers. 3200 K to 5500 K is -131.", "Planck's law; the wavelengths are our own choice"),
    Term("factor", "The number by which a filter multiplies the exposure.",
         "factor = 10^density = 2^stops: 2 is 1 stop or 0.30, 4 is 2 stops or 0.60, 8 is 3 stops or 0.90. Try:"
         " curves explain \"factor 4\", \"2 stops\" or \"density 0.6\".", "handbooks",
         "The film's factor is not the meter's: layers and meter see colours differently.",
         ("filter_factor", "film_stops", "meter_stops", "correction")),
    Term("stack", "Filters used together: their densities to a layer add.",
         "A filter of density f to a layer moves its curve: D(x) becomes D(x - f). Listed are the stacks that no other"
         " beats in both cast and cost; the best weighs a stop as 0.02 of cast.", "shift model; the 0.02 is our own"
         " choice",
         keys=("stack", "stacks", "stacks_counted", "stacks_too_dear", "best", "without_filters", "covered",
               "uncovered", "worse_than_before", "told_apart")),
    Term("exposure cost", "The exposure that a stack needs beyond the bare strip's to keep the scene as bright.",
         "EI without filters x 10^-(0.30103 x stops) is the index for a meter that does not see the filters; times the"
         " meter's factor it is the index for one that looks through them.",
         keys=("cost_stops", "ei_hand_held", "nominal_hand_held", "ei_through", "nominal_through", "criterion")),
    Term("pack", "The filters, without any neutral density, that would make the layers equal at grey.",
         "Red layer = cyan, green layer = magenta, blue layer = yellow; the slowest layer gets no filter. In CC units.",
         keys=("pack", "cyan", "magenta", "yellow", "match")),
    Term("cast", "The colour of a grey: each layer's density less the mean of the three, and a hue.",
         "Its amount is the density of the one filter of that hue that grey seems to be seen through. White, grey and"
         " shadow lie at +0.70, 0 and -0.90 log H; together as root mean square, grey counting double.",
         "weights are our own choice", "A cast within its uncertainty may be none at all.",
         ("casts", "cast_left", "amount", "hue", "neutral", "white", "grey")),
    Term("crossover", "The cast left at white and shadow when grey is balanced: layers of different shape.",
         remark="No filter mends it: a filter moves a curve, it does not bend it.", keys=("crossover",)),
    Term("pure shift", "Whether one shift in log H lays the bare curve on the filtered curve.",
         "The distance of the curves, at equal density, must not grow or bend with density by more than scatter gives"
         " once in a hundred. If it does, the strips were not developed alike.", "own choice of the hundredth",
         keys=("pure_shift", "chance", "misfit", "contrast_ratio")),
    Term("verify", "A prediction compared with the strip exposed through the stack.",
         "Casts at the predicted index, the index itself, and the stack's density to each layer, measured less"
         " predicted; each difference beyond its uncertainty is reported.",
         keys=("measured", "misses", "shifts", "ei_stops", "says")),
    Term("warning", "A notice beside the numbers: a code for machines and a sentence for people.",
         keys=("warnings", "code", "message")),
)  # fmt: skip
