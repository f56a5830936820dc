using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

public enum NonconformanceClass { Cosmetic, Minor, Major }

/// <summary>Something is not as it must be, and somebody has to say what becomes of it.</summary>
[Fact("nonconformance.raised", 1, Kind = FactKind.Reading, Role = Roles.PlantInspector, Also = Roles.QualityEngineer, Summary = "A nonconformance was raised.")]
public sealed record NonconformanceRaised(
    [Identity("nonconformance")] string Nonconformance,
    [Identity("unit"), Entries(1, 100)] IReadOnlyList<string> Units,
    NonconformanceClass Class,
    [Description("Touches strength, stability or durability.")] bool Structural,
    [Longest(1000)] string Description,
    [Description("The requirement that is not met, by its id; left out when none is named."), Longest(100)] string? Requirement = null) : IFact
{
    public Subject About => Subject.Nonconformance(Nonconformance);

    /// <summary>Whether it is structural or major: more than the quality engineer alone decides.</summary>
    public bool NeedsEngineer() => Structural || Class == NonconformanceClass.Major;

    public IEnumerable<Link> Links() => Units.Select(u => Link.JudgedBy(Subject.Unit(u), About));
}

public enum DispositionKind { UseAsIs, Repair, Rework, Reject }

/// <summary>What becomes of a nonconformance. Repair or use as is of a structural or major one also needs the engineer of record's letter.</summary>
[Fact("nonconformance.disposed", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "The disposition of a nonconformance was decided.")]
public sealed record NonconformanceDisposed(
    [Identity("nonconformance")] string Nonconformance,
    DispositionKind Disposition,
    [Description("Repair procedure or reason."), Longest(500)] string Procedure,
    DecisionBasis? Basis = null) : IFact
{
    public Subject About => Subject.Nonconformance(Nonconformance);

    public IEnumerable<Link> Links() => [];
}

public enum Approver { QualityEngineer, EngineerOfRecord, Agency }

/// <summary>A requirement that a letter accepts as not met.</summary>
public sealed record AcceptedFinding(
    [Longest(100)] string Requirement,
    [Description("Subject of the finding; left out for all of the requirement."), Longest(200)] string? Subject = null);

/// <summary>A letter that approves a disposition, and what it accepts.</summary>
[Fact("nonconformance.approved", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Also = Roles.AgencyInspector, Summary = "The disposition of a nonconformance was approved by letter.")]
public sealed record NonconformanceApproved(
    [Identity("nonconformance")] string Nonconformance,
    Approver By,
    [Longest(200)] string Letter,
    DateTimeOffset ApprovedAt,
    [Entries(0, 40)] IReadOnlyList<AcceptedFinding> Accepts,
    [Longest(1000)] string? Conditions = null) : IFact
{
    public Subject About => Subject.Nonconformance(Nonconformance);

    public IEnumerable<Link> Links() => [];
}

[Fact("nonconformance.closed", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "A nonconformance was closed.")]
public sealed record NonconformanceClosed([Identity("nonconformance")] string Nonconformance, [Longest(500)] string Outcome) : IFact
{
    public Subject About => Subject.Nonconformance(Nonconformance);

    public IEnumerable<Link> Links() => [];
}

/// <summary>A document was attached to a subject. Its bytes are named by their hash.</summary>
[Fact("document.attached", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Also = Roles.Receiving, Summary = "A document was attached to a subject.")]
public sealed record DocumentAttached(
    [Description("Subject it belongs to, written kind:id."), Longest(120)] string Subject,
    string Title,
    [Description("SHA-256 of the document, lower-case hex."), Longest(64)] string Sha256,
    [Description("Media type, for example application/pdf."), Longest(100)] string MediaType) : IFact
{
    public Subject About => Records.Subject.Parse(Subject);

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check()
    {
        if (!Records.Subject.TryParse(Subject, out _)) yield return new("data.subject", "must be a subject written kind:id", "For example unit:RF-0101.");
        if (Sha256.Length != 64 || !Sha256.All(c => c is >= '0' and <= '9' or >= 'a' and <= 'f'))
            yield return new("data.sha256", "must be 64 lower-case hex digits", "Send the SHA-256 of the document.");
    }
}
