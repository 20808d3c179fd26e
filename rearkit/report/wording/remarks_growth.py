"""What limits an answer about growth, or about moving."""

CURVES_IN_WORDS = {
    "line": "straight-line",
    "exponential": "exponential",
    "logistic": "logistic",
    "gompertz": "Gompertz",
    "von_bertalanffy": "von Bertalanffy",
}

SENTENCES: dict[str, str] = {
    "no_lengths": "The log holds no lengths. To see growth, measure some fish of every container "
    "on two days or more (a photo over a ruler does) and fill in the sheet Sizes: one row a fish, "
    "or one row a group.",
    "growth_one_arm": "Lengths can be used for one method only, so nothing is compared.",
    "length_day_not_declared": "The day was not declared beforehand; day {day} is the latest on "
    "which most containers were measured.",
    "length_day_not_reached": "No container was measured as late as day {wanted}; lengths are "
    "compared on day {day}, the latest on which most containers were measured.",
    "length_extrapolated": "The lengths on day {day} are extrapolated for {units}: their measured "
    "days do not reach around it.",
    "second_outcome": "The plan names {main} as the main outcome. Length is a second one, and with "
    "several outcomes one of them soon shows something by chance, so the words go a step less far.",
    "units_not_measured": "No usable length, so nothing is said of the growth of {units}.",
    "units_no_fish_left": "No fish were left on day {day} in {units}: they have no length, but "
    "they count, as none, among the fry that are long enough.",
    "growth_without_survival": "Survival could not be followed up to this day, so nobody can say "
    "whether the small ones had died.",
    "runts_lost_within": "Only fish that live are measured. If those lost were always the "
    "smallest, that alone would shift the difference to anywhere from {low} mm to {high} mm. The "
    "difference seen lies within that, so it may have nothing to do with growth.",
    "runts_lost_beyond": "Only fish that live are measured. If those lost were always the "
    "smallest, that alone would shift the difference to anywhere from {low} mm to {high} mm. The "
    "difference seen goes beyond that.",
    "runts_lost_single": "Only fish that live are measured. If those lost were always the "
    "smallest, that alone would have raised a mean by up to {most} mm.",
    "crowding": "Fish with more room often grow faster. On that day there were {litre_usual} to a "
    "litre with {usual} and {litre_tested} with {tested}, which by itself may make a difference.",
    "curve_one_day": "Measured on one day only, so the length of that day is taken as it is and "
    "no curve is drawn: {batches}.",
    "curve_too_few_days": "Measured on too few days for the {curve} curve, so a straight line "
    "stands in: {batches}.",
    "curve_no_growth": "The mean length did not rise in {batches}, so a straight line stands in "
    "there.",
    "curve_did_not_settle": "The {curve} curve did not settle in {batches}, so a straight line "
    "stands in there.",
    "curve_at_bound": "In {batches} the {curve} curve lies at the edge of the shapes it can have. "
    "Its lengths hold within the measured days; its shape says nothing more.",
    "curve_not_chosen": "There are too few measured days to tell one kind of curve from another.",
    "too_young": "No final size is given: these fish are too young to tell their final size.",
    "adult_length_given": "The final length is no result of these fish: {length} mm was given as "
    "the adult length and is held.",
    "final_size_leans": "The final size leans on the {curve} curve; another kind of curve would "
    "give another one.",
    "length_never_reached": "On its curve this never comes to {length} mm: {batches}.",
    "day_reached_extrapolated": "The day on which the mean reaches {length} mm is extrapolated, "
    "outside the measured days, for {batches}.",
    "weight_exponent_unusual": "Weight goes with length to the power {b}, outside the 2.5 to 3.5 "
    "that most fish have (Froese 2006). Check the scale and the units, and whether the weighed "
    "fish differ enough in length.",
    "two_kinds_of_length": "Total and standard length are mixed; {n_fish} fish that were not "
    "measured in {kept} length are left out ({batches}).",
    "lengths_in_cm": "The lengths of this log are too small for fry in millimetres (half of them "
    "are below {typical}), so they are read as centimetres.",
    "spread_left_out": "A standard deviation of more than half the mean was taken for a slip and "
    "left out ({batches}).",
    "no_size_limit": "No size to move at is given: set size_to_move_mm, or write it in the Trial "
    "sheet.",
    "no_crowd_limit": "No limit of fish to a litre is given: set most_fish_per_litre, or write it "
    "in the Trial sheet.",
    "moving_no_lengths": "No lengths are logged for {batches}, so nobody can say when they will be "
    "long enough. Measure ten to twenty fish, twice, a week apart.",
    "moving_no_curve": "Measured on one day only, so no growth can be seen: {batches}. Measure "
    "again in a week.",
    "moving_never": "The mean does not grow towards {size} mm on its curve, so no day can be given "
    "for {batches}. Measure again.",
    "moving_far": "The day lies further ahead than the measured days are long, too far to name a "
    "date for {batches}. Measure again in a week or two.",
    "moving_no_litres": "The litres are not logged, so crowding cannot be told: {batches}.",
    "moving_extrapolated": "Dates ahead are extrapolated: they hold if the fish go on growing as "
    "they did. Measure {batches} again before you act.",
    "moving_extrapolated_ended": "The day is extrapolated where a batch ended before it: "
    "{batches}.",
    "moving_few_containers": "Fewer than three containers show this stretch of growth, so the "
    "window knows nothing of how much containers differ: it is too narrow.",
    "moving_spread_borrowed": "How unequal the fish are is not logged for {batches}; the spread of "
    "the other containers is used.",
    "moving_mean_fish": "How unequal the fish are is not logged for {batches}; the day is that of "
    "the mean fish, and the small ones will still be shorter.",
    "moving_perhaps_crowded": "The last count leaves open whether the limit of fish to a litre is "
    "passed already in {batches}.",
}
