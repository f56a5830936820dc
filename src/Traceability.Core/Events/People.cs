using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

public enum Certification { PlantInspector, FieldTestingTechnician, StrengthTestingTechnician, Welder }

/// <param name="ValidThrough">Last day of validity, inclusive, as the certificate states it.</param>
[Fact("person.certified", 1, Role = Roles.QualityEngineer, Summary = "A person's certification was read in with its validity.")]
public sealed record PersonCertified(string Person, Certification Certification, string Issuer, DateOnly IssuedOn, DateOnly ValidThrough) : IFact
{
    public Subject About => Subject.Person(Person);

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check()
    {
        foreach (var p in Shape.Id("data.person", Person, "person")) yield return p;
        foreach (var p in Shape.Text("data.issuer", Issuer, 100)) yield return p;
        if (ValidThrough < IssuedOn) yield return new("data.validThrough", "must not be before issuedOn", "Check both dates.");
    }
}

public enum InstrumentKind { CompressionMachine, AirMeter, Thermometer, Tape, CoverMeter, Scale, WaterMeter, TemperatureProbe, UnitWeightMeasure }

/// <param name="ValidThrough">Last day of validity, inclusive.</param>
/// <param name="AsFoundErrorPct">Error found before adjustment, percent of reading; null when none was stated.</param>
[Fact("instrument.calibrated", 1, Role = Roles.QualityEngineer, Summary = "An instrument was calibrated, with what was found.")]
public sealed record InstrumentCalibrated(
    string Instrument, InstrumentKind Kind, DateOnly CalibratedOn, DateOnly ValidThrough, string CertificateNumber, Reading? AsFoundErrorPct = null) : IFact
{
    public Subject About => Subject.Instrument(Instrument);

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check()
    {
        foreach (var p in Shape.Id("data.instrument", Instrument, "instrument")) yield return p;
        foreach (var p in Shape.Text("data.certificateNumber", CertificateNumber, 100)) yield return p;
        if (ValidThrough < CalibratedOn) yield return new("data.validThrough", "must not be before calibratedOn", "Check both dates.");
    }
}
