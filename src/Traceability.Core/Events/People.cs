using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

public enum Certification { PlantInspector, FieldTestingTechnician, StrengthTestingTechnician, Welder }

[Fact("person.certified", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "A person's certification was read in with its validity.")]
public sealed record PersonCertified(
    [Identity("person")] string Person,
    Certification Certification,
    [Longest(100)] string Issuer,
    DateOnly IssuedOn,
    [Description("Last day of validity, inclusive, as the certificate states it.")] DateOnly ValidThrough) : IFact
{
    public Subject About => Subject.Person(Person);

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check() =>
        ValidThrough < IssuedOn ? [new("data.validThrough", "must not be before issuedOn", "Check both dates.")] : [];
}

public enum InstrumentKind { CompressionMachine, AirMeter, Thermometer, Tape, CoverMeter, Scale, WaterMeter, TemperatureProbe, UnitWeightMeasure }

[Fact("instrument.calibrated", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "An instrument was calibrated, with what was found.")]
public sealed record InstrumentCalibrated(
    [Identity("instrument")] string Instrument,
    InstrumentKind Kind,
    DateOnly CalibratedOn,
    [Description("Last day of validity, inclusive.")] DateOnly ValidThrough,
    [Longest(100)] string CertificateNumber,
    [Description("Error found before adjustment, of reading; left out when none was stated.")] Reading? AsFoundErrorPct = null) : IFact
{
    public Subject About => Subject.Instrument(Instrument);

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check() =>
        ValidThrough < CalibratedOn ? [new("data.validThrough", "must not be before calibratedOn", "Check both dates.")] : [];
}
