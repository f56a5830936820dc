namespace Traceability.Core.Profiles;

/// <summary>What plants usually do, as a range. Neither a limit nor a reason to refuse anything: a default, and a hint that a figure is odd.</summary>
/// <param name="Name">Its name, never reused.</param>
/// <param name="Least">Smallest usual figure, in the unit.</param>
/// <param name="Most">Largest usual figure, in the unit.</param>
/// <param name="What">The habit in words.</param>
/// <param name="Source">Common practice without a source, unless a document has it.</param>
public sealed record Habit(string Name, decimal Least, decimal Most, string Unit, string What, Citation Source)
{
    /// <summary>Whether a figure in the unit is a usual one.</summary>
    public bool IsUsual(decimal figure) => figure >= Least && figure <= Most;
}

/// <summary>Habits of precast plants, each in one place beside its mark.</summary>
public static class Practice
{
    private static readonly Citation Plants = new("Habit of precast plants", SourceMark.CommonPractice);

    public static readonly Habit
        StripCylinders = new("cylinders.strip", 2, 4, "cylinders", "cylinders for stripping, cured with the unit: a set, and one to break again", Plants),
        ShipCylinders = new("cylinders.ship", 2, 3, "cylinders", "cylinders for shipping", Plants),
        AcceptanceCylinders = new("cylinders.acceptance", 2, 3, "cylinders", "cylinders for acceptance: two of 6 x 12 in or three of 4 x 8 in", Plants),
        SpareCylinders = new("cylinders.spare", 1, 3, "cylinders", "spare cylinders, broken when a set is low or lost", Plants),
        StripAge = new("age.strip", 12, 24, "h", "age of the first strip set: the next morning", Plants),
        ShipAge = new("age.ship", 3, 14, "days", "age of the ship set", Plants),
        AcceptanceAge = new("age.acceptance", 28, 56, "days", "age of the acceptance set", Plants),
        BreakAgain = new("age.strip-again", 2, 8, "h", "wait before a low strip set is broken again", Plants),
        StripShare = new("strip.share", 40, 70, "pct", "strength before stripping, share of the design strength", Plants),
        TechnicianCertificate = new("certificate.technician", 1, 5, "years", "validity of a testing technician's certificate", new("ACI certification programs", SourceMark.Published, Clause: "field and strength testing technicians, 5 years")),
        MachineCertificate = new("certificate.machine", 6, 13, "months", "validity of the verification of a compression machine", new("ASTM C39/C39M", SourceMark.Memory, Clause: "verification within 13 months")),
        ScaleCertificate = new("certificate.scale", 1, 12, "months", "validity of a scale's check; documents disagree from a month to a year", new("Maryland State Highway Administration, specification 915.01", SourceMark.Published, Clause: "yearly by an agency, monthly by the producer")),
        AirMeterCertificate = new("certificate.air-meter", 1, 12, "months", "validity of an air meter's calibration", new("AASHTO R 18", SourceMark.Memory, Clause: "3 months for air meters")),
        TapeCertificate = new("certificate.tape", 6, 12, "months", "validity of the check of tapes and cover meters", Plants),
        SpanCover = new("cover.span", 1, 2, "in", "specified cover of the steel of a span", Plants),
        InPlantDischarge = new("discharge.in-plant", 10, 60, "min", "time to discharge where the batch plant stands beside the forms", Plants),
        RetarderFrom = new("discharge.retarder-from", 45, 75, "min", "haul from which a retarder is used; it slows the setting and leaves the limit on discharge as it is", Plants),
        WinterAccelerator = new("accelerator.winter", 0.5m, 2, "pct", "bagged calcium chloride in winter, share of cementitious materials; in reinforced work the chloride limit leaves no room for it", Plants);

    public static IReadOnlyList<Habit> All { get; } =
    [
        StripCylinders, ShipCylinders, AcceptanceCylinders, SpareCylinders, StripAge, ShipAge, AcceptanceAge, BreakAgain, StripShare, TechnicianCertificate, MachineCertificate,
        ScaleCertificate, AirMeterCertificate, TapeCertificate, SpanCover, InPlantDischarge, RetarderFrom, WinterAccelerator,
    ];
}
