using System.Text.RegularExpressions;

namespace Traceability.Core.Profiles;

/// <summary>What makes one figure under a key tighter than another.</summary>
public enum Direction
{
    /// <summary>The largest that is allowed: a smaller figure is tighter.</summary>
    AtMost,
    /// <summary>The smallest that is allowed: a larger figure is tighter.</summary>
    AtLeast,
    /// <summary>The same distance to either side of a target: a narrower one is tighter. Unequal sides are two keys, each at most.</summary>
    PlusOrMinus,
    /// <summary>A frequency, one for every so much: a smaller figure asks more often and is tighter.</summary>
    Every,
    /// <summary>Neither way is tighter: two figures can only be the same or different.</summary>
    Fixed,
}

/// <summary>One thing that profiles limit.</summary>
/// <param name="Key">Its name; a part in angle brackets stands for any word of small letters, digits and hyphens.</param>
/// <param name="Unit">The unit its figure is stated in.</param>
/// <param name="Digits">Digits after the point that readings of it are taken to. A limit written finer could never be rounded to.</param>
/// <param name="What">What it limits, in words.</param>
public sealed partial record LimitKey(string Key, string Unit, Direction Direction, int Digits, string What)
{
    /// <summary>Regular expression of the keys it stands for.</summary>
    public string Pattern { get; } = "^" + Placeholder().Replace(Regex.Escape(Key), "[a-z0-9-]+") + "$";

    public bool Many => Key.Contains('<', StringComparison.Ordinal);

    public bool Covers(string key) => Many ? Regex.IsMatch(key, Pattern, RegexOptions.CultureInvariant) : string.Equals(Key, key, StringComparison.Ordinal);

    [GeneratedRegex("<[a-z]+>")]
    private static partial Regex Placeholder();
}

/// <summary>A way in which editions of a document or agencies differ, chosen by a profile.</summary>
/// <param name="Name">What is chosen.</param>
/// <param name="Values">What it can be.</param>
/// <param name="What">What it decides, in words.</param>
public sealed record EditionKey(string Name, IReadOnlyList<string> Values, string What);

/// <summary>
/// The one list of what a profile can state: keys of limits with their unit and direction, choices of edition, kinds of
/// product. The schema of profile files is made from it, and a requirement that asks for a key not in it fails a test.
/// </summary>
public static class LimitKeys
{
    private const int Inches = 5;

    /// <summary>Unit of a demand that has no figure: 1 where it is made, 0 where it is not.</summary>
    private const string Asked = "asked";

    public static IReadOnlyList<LimitKey> All { get; } =
    [
        new("steel.<specification>-<grade>.yield-min", "psi", Direction.AtLeast, 0, "yield strength of bars"),
        new("steel.<specification>-<grade>.yield-max", "psi", Direction.AtMost, 0, "yield strength of bars"),
        new("steel.<specification>-<grade>.tensile-min", "psi", Direction.AtLeast, 0, "tensile strength of bars"),
        new("steel.<specification>-<grade>.ratio-min", "ratio", Direction.AtLeast, 2, "tensile strength over yield strength"),
        new("steel.<specification>-<grade>.elongation-min.<sizes>", "pct", Direction.AtLeast, 1, "elongation in 8 in, bars of the sizes named"),

        new("cover.reduction.shallow", "in", Direction.AtMost, Inches, "cover less than specified, effective depth of 8 in or less"),
        new("cover.reduction.deep", "in", Direction.AtMost, Inches, "cover less than specified, effective depth of more than 8 in"),
        new("cover.reduction.soffit", "in", Direction.AtMost, Inches, "cover less than specified at formed soffits"),
        new("cover.reduction.share-divisor", "ratio", Direction.AtLeast, 2, "the specified cover divided by this is the most it may be less by"),
        new("cover.increase", "in", Direction.AtMost, Inches, "cover more than specified"),
        new("depth.tolerance.shallow", "in", Direction.PlusOrMinus, Inches, "effective depth, specified 8 in or less"),
        new("depth.tolerance.deep", "in", Direction.PlusOrMinus, Inches, "effective depth, specified more than 8 in"),
        new("form.set-up-inspected", Asked, Direction.AtLeast, 0, "an inspection of the form's set-up before its first use and after a rebuild: 1 where it is asked"),
        new("spacing.tolerance", "in", Direction.PlusOrMinus, Inches, "spacing of bars"),
        new("lap.reduction", "in", Direction.AtMost, Inches, "lap shorter than specified"),

        new("dimension.thickness.under", "in", Direction.AtMost, Inches, "thickness under the specified one"),
        new("dimension.thickness.under-share", "pct", Direction.AtMost, 2, "thickness under the specified one, share of it"),
        new("dimension.opening", "pct", Direction.PlusOrMinus, 2, "span or rise, share of it"),
        new("dimension.length", "in", Direction.PlusOrMinus, Inches, "length, width, height"),
        new("dimension.position", "in", Direction.PlusOrMinus, Inches, "position of inserts and sleeves"),

        new("batch.cementitious", "pct", Direction.PlusOrMinus, 1, "weight of cementitious materials"),
        new("batch.cementitious.small-share", "pct", Direction.Fixed, 0, "share of the scale's capacity below which a batch is small"),
        new("batch.cementitious.small-over", "pct", Direction.AtMost, 1, "cementitious materials over the target in a small batch"),
        new("batch.aggregate", "pct", Direction.PlusOrMinus, 1, "weight of aggregate"),
        new("batch.aggregate.cumulative", Asked, Direction.Fixed, 0, "aggregates weighed one onto the other, with the tolerance of C94/C94M for that: 1 where the plant weighs so"),
        new("batch.admixture", "pct", Direction.PlusOrMinus, 1, "amount of admixture"),
        new("batch.water", "pct", Direction.PlusOrMinus, 1, "batch water, share of its target"),
        new("batch.field-water", "lb/yd3", Direction.AtMost, 1, "water added after batching"),
        new("batch.yield", "pct", Direction.PlusOrMinus, 1, "volume by density against the volume on the ticket"),
        new("chloride.max", "pct", Direction.AtMost, 2, "chloride of the ingredients, of cement or of cementitious materials by the edition of ACI 318"),
        new("scale.accuracy.capacity", "pct", Direction.AtMost, 2, "error of a scale, share of its capacity"),
        new("scale.accuracy.load", "pct", Direction.AtMost, 2, "error of a scale, share of the load"),
        new("plant.approved", Asked, Direction.AtLeast, 0, "an approval of the plant in force on the day of the batch: 1 where it is asked"),
        new("source.approved", Asked, Direction.AtLeast, 0, "an approval of every ingredient's source in force on the day of the batch: 1 where it is asked"),
        new("load.accepted", Asked, Direction.AtLeast, 0, "an acceptance of every load: 1 where it is asked"),
        new("embeds.domestic", Asked, Direction.AtLeast, 0, "a domestic statement for every embedded item of a federal contract: 1 where it is asked"),
        new("form.pressure.chemistry", "ratio", Direction.Fixed, 1, "chemistry coefficient of the formula of form pressure; where it is stated, the form's rating is judged"),
        new("pour.interruption.minutes", "min", Direction.AtMost, 0, "interruption of a pour without a cold joint"),
        new("weather.evaporation", "lb/ft2/h", Direction.AtMost, 2, "rate of evaporation at the pour, by the customary form"),
        new("weather.air-min", "F", Direction.AtLeast, 1, "air temperature at the pour"),
        new("discharge.minutes", "min", Direction.AtMost, 0, "time from first contact of water and cement to the end of discharge"),

        new("fresh.temperature.min", "F", Direction.AtLeast, 1, "temperature of the concrete as placed"),
        new("fresh.temperature.max", "F", Direction.AtMost, 1, "temperature of the concrete as placed"),
        new("fresh.flow.diameters", "in", Direction.AtMost, Inches, "difference of the two diameters of a slump flow"),
        new("fresh.flow.low", "in", Direction.PlusOrMinus, Inches, "slump flow at a low target"),
        new("fresh.flow.high", "in", Direction.PlusOrMinus, Inches, "slump flow at a high target"),
        new("fresh.flow.break", "in", Direction.Fixed, Inches, "target that parts low and high"),
        new("fresh.stability.max", "index", Direction.AtMost, 1, "visual stability index"),
        new("fresh.air.tolerance", "pct", Direction.PlusOrMinus, 1, "air content"),
        new("fresh.slump.low", "in", Direction.PlusOrMinus, Inches, "slump at a target of 2 in or less"),
        new("fresh.slump.middle", "in", Direction.PlusOrMinus, Inches, "slump at a target of more than 2 and up to 4 in"),
        new("fresh.slump.high", "in", Direction.PlusOrMinus, Inches, "slump at a target of more than 4 in"),
        new("fresh.density", "pct", Direction.PlusOrMinus, 1, "density, share of the mix's"),
        new("fresh.t50.min", "s", Direction.AtLeast, 1, "time to a flow of 20 in"),
        new("fresh.t50.max", "s", Direction.AtMost, 1, "time to a flow of 20 in"),
        new("fresh.j-ring", "in", Direction.AtMost, Inches, "slump flow less J-ring flow"),
        new("fresh.column", "pct", Direction.AtMost, 1, "segregation of the column"),
        new("sampling.plan", Asked, Direction.AtLeast, 0, "a sampling plan before the pour: 1 where it is asked"),
        new("sampling.first-load", Asked, Direction.AtLeast, 0, "a test of the first load: 1 where it is asked"),
        new("sampling.composite.minutes", "min", Direction.AtMost, 0, "time from the first to the last portion of a sample"),
        new("sampling.tests.minutes", "min", Direction.AtMost, 0, "time from the last portion to the start of the tests"),
        new("fresh.moulding.minutes", "min", Direction.AtMost, 0, "time until moulding of strength specimens begins"),
        new("sampling.volume", "yd3", Direction.Every, 0, "volume of a mix represented by one strength test"),

        new("sampling.day", "tests", Direction.AtLeast, 0, "strength tests of a mix and day, where sampling is by day"),
        new("sampling.group", "units", Direction.Every, 0, "units of a group that one strength test stands for, where sampling is by group"),
        new("chloride.admixture", "pct", Direction.AtMost, 2, "chloride of an admixture, of its own mass"),

        new("cylinder.diameter-difference", "pct", Direction.AtMost, 1, "difference of two diameters of one cylinder"),
        new("cylinder.machine-error", "pct", Direction.AtMost, 1, "error of the testing machine"),
        new("cylinder.age-window", "h", Direction.PlusOrMinus, 2, "age of an acceptance test"),
        new("acceptance.age", "days", Direction.Fixed, 0, "age of an acceptance test"),
        new("acceptance.cylinders.4x8", "cylinders", Direction.AtLeast, 0, "4 x 8 in cylinders in an acceptance test"),
        new("acceptance.cylinders.6x12", "cylinders", Direction.AtLeast, 0, "6 x 12 in cylinders in an acceptance test"),
        new("strip.cylinders", "cylinders", Direction.AtLeast, 0, "cylinders in a test before stripping"),
        new("ship.cylinders", "cylinders", Direction.AtLeast, 0, "cylinders in a test before shipping"),

        new("acceptance.running", "tests", Direction.Fixed, 0, "tests in a row whose mean must reach the design strength"),
        new("acceptance.single.up-to", "psi", Direction.Fixed, 0, "design strength up to which a single test is limited by a difference, above it by a share"),
        new("acceptance.single.under", "psi", Direction.AtMost, 0, "a single test below the design strength"),
        new("acceptance.single.share", "pct", Direction.AtLeast, 0, "a single test as a share of the design strength"),
        new("acceptance.lot.below", "pct", Direction.AtMost, 0, "tests below the design strength by a product standard"),
        new("acceptance.lot.least", "pct", Direction.AtLeast, 0, "lowest test by a product standard, share of the design strength"),
        new("core.cores", "cores", Direction.AtLeast, 0, "cores for one low test"),
        new("core.per-unit", "cores", Direction.AtLeast, 0, "routine cores of every unit"),
        new("core.mean", "pct", Direction.AtLeast, 0, "mean of the cores as a share of the design strength"),
        new("core.single", "pct", Direction.AtLeast, 0, "one core as a share of the design strength"),
        new("core.days.least", "days", Direction.AtLeast, 0, "days a core is kept sealed before its test"),
        new("core.days.most", "days", Direction.AtMost, 0, "days a core is kept sealed before its test"),
        new("cylinder.initial.hours", "h", Direction.AtMost, 1, "duration of the initial cure of cylinders"),
        new("cylinder.initial.low", "F", Direction.AtLeast, 1, "temperature of the initial cure"),
        new("cylinder.initial.high", "F", Direction.AtMost, 1, "temperature of the initial cure"),
        new("cylinder.initial.strong-from", "psi", Direction.Fixed, 0, "design strength from which the narrower window holds"),
        new("cylinder.initial.strong-low", "F", Direction.AtLeast, 1, "temperature of the initial cure, stronger concrete"),
        new("cylinder.initial.strong-high", "F", Direction.AtMost, 1, "temperature of the initial cure, stronger concrete"),

        new("strip.maturity.verifications", "tests", Direction.AtLeast, 0, "tests that verify a strength-maturity relation before it may stand for strip cylinders"),
        new("lifting.edge-distance", "in", Direction.AtLeast, Inches, "distance of a lifter from the nearest edge"),
        new("lifting.sling-angle", "deg", Direction.AtLeast, 0, "angle of a sling from the horizontal"),
        new("fit.gap", "in", Direction.AtMost, Inches, "gap of mated units"),
        new("crack.width", "in", Direction.AtMost, 3, "crack that may be left or sealed"),
        new("defect.cosmetic-depth", "in", Direction.AtMost, Inches, "depth of a cosmetic defect"),
        new("asked.as-cast", "records", Direction.AtLeast, 0, "inspections of a unit as cast"),
        new("asked.fit", "records", Direction.AtLeast, 0, "trial fits of a unit"),
        new("asked.cracks", "records", Direction.AtLeast, 0, "maps of cracks and defects of a unit"),
        new("asked.mark", "records", Direction.AtLeast, 0, "records of a unit's marking"),
        new("asked.stamp", "records", Direction.AtLeast, 0, "stamps of the agency on a unit"),
        new("asked.load-out", "records", Direction.AtLeast, 0, "inspections of a unit on the truck"),
        new("asked.load-certificate", "records", Direction.AtLeast, 0, "load certificates that name a unit"),
        new("asked.check-test", "records", Direction.AtLeast, 0, "check samples of the agency from concrete in a unit"),
        new("asked.initial-cure", "records", Direction.AtLeast, 0, "records of the initial cure of acceptance cylinders"),
        new("asked.domestic-tally", "records", Direction.AtLeast, 0, "letters that state the tally of foreign steel over the whole contract"),

        new("cure.ramp", "F/h", Direction.AtMost, 1, "rise of the concrete's temperature"),
        new("cure.peak", "F", Direction.AtMost, 1, "temperature of the concrete while curing"),
        new("cure.cooling", "F/h", Direction.AtMost, 1, "fall of the concrete's temperature"),
        new("cure.before-set", "F", Direction.AtMost, 1, "temperature of the concrete until initial set"),

        new("lifting.insert-factor", "ratio", Direction.AtLeast, 2, "capacity of a lifting insert over its load"),
        new("ship.minimum-age", "days", Direction.AtLeast, 0, "age of a unit when it is shipped"),
    ];

    public static IReadOnlyList<EditionKey> Editions { get; } =
    [
        new("astm-c94", ["before-21a", "21a"], "batch water: related to the total mixing water before C94/C94M-21a, to the target batch water from it on"),
        new("astm-a615", ["before-20", "20"], "tensile strength of Grade 60 bars: 90,000 psi before A615/A615M-20, 80,000 psi with a ratio to the yield strength from it on"),
        new("aci-318", ["14", "19"], "basis of the chloride limits, and the clause of the low-strength investigation"),
        new("discharge-time", ["kept", "producer"], "time to discharge: 90 minutes kept by the contract, or set by the producer as C94/C94M-21 leaves it"),
        new("acceptance-rule", ["aci-318", "product-standard"], "strength is accepted over the series of tests at the stated age, or unit by unit at any age up to 28 days"),
        new("sampling-by", ["volume", "day", "group"], "what one strength test represents"),
    ];

    /// <summary>Kinds of product as drawings name them, in small letters with hyphens.</summary>
    public static IReadOnlyList<string> Products { get; } = ["rigid-frame", "wing-wall", "box-culvert", "barrier", "manhole"];

    /// <summary>The entry that covers a key, or null when nothing of the kind is limited.</summary>
    public static LimitKey? Find(string key) => All.FirstOrDefault(k => k.Covers(key));

    /// <summary>The key of a limit that holds for one kind of product alone.</summary>
    public static string For(string key, string product) => key + "@" + product;

    /// <summary>The name of a product as limits are keyed by it.</summary>
    public static string Product(string product) => product.Trim().ToLowerInvariant().Replace(' ', '-');
}
