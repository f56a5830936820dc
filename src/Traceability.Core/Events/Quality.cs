using System.ComponentModel;
using System.Text.Json;
using Traceability.Core.Dossiers;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>
/// A full replacement of one version of a record. The first version is 1; each correction makes the next.
/// Two for one version are a conflict, and neither counts.
/// </summary>
[Fact("record.corrected", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "A record was corrected by a full replacement of its content.")]
public sealed record RecordCorrected(
    [Description("The record as first made, by the id in its receipt; never a correction of it.")] Guid Record,
    [Description("The version that is replaced. The record as first made is version 1; each correction makes the next."), Between(1, 1_000_000)] int ReplacedVersion,
    [Description("Type of the replaced content; a correction cannot change what kind of fact it is."), Longest(100)] string Type,
    [Description("The whole corrected content, in the shape of its type.")] JsonElement Data,
    [Longest(500)] string Reason,
    [Description("Corrected time; left out when the time of the replaced version stands.")] DateTimeOffset? OccurredAt = null,
    [Description("The second person who approved it, where it turns not met into met."), Identity("person")] string? SecondApprover = null) : IFact
{
    private IFact? _replacement;

    public Subject About => Subject.Record(Record);

    /// <summary>The corrected content; throws <see cref="FactShapeException"/> when it does not have the shape of its type.</summary>
    public IFact Replacement => _replacement ??= FactCatalog.Read(FactCatalog.All[Type], Data);

    // The corrected fact may touch other subjects than the one it replaces; both must find it.
    public IEnumerable<Link> Links() => Dossiers.Links.Of(Replacement);

    public IEnumerable<ShapeProblem> Check()
    {
        if (!FactCatalog.All.TryGetValue(Type, out var type))
            return [new("data.type", "must be a known fact type", "Name the type of the record that is replaced.")];
        if (type.Clr == typeof(RecordCorrected) || type.Clr == typeof(RecordWithdrawn))
            return [new("data.type", "must not be a correction or a withdrawal", "Correct the record itself, naming its newest version.")];
        if (type.Clr.IsAssignableTo(typeof(IDecision)))
            return [new("data.type", "must not be a decision", "Undo the decision and decide again.")];
        try
        {
            _ = Replacement;
            return [];
        }
        catch (FactShapeException e)
        {
            return e.Problems.Select(p => p with { Field = "data." + p.Field });
        }
    }
}

[Fact("record.withdrawn", 1, Kind = FactKind.Act, Role = Roles.QualityEngineer, Summary = "A record was withdrawn: it never should have been made.")]
public sealed record RecordWithdrawn(
    [Description("The record as first made, by the id in its receipt; never a correction of it.")] Guid Record,
    [Description("The newest version of the record, the one that is withdrawn."), Between(1, 1_000_000)] int WithdrawnVersion,
    [Longest(500)] string Reason,
    [Description("The second person who approved it, where it turns not met into met."), Identity("person")] string? SecondApprover = null) : IFact
{
    public Subject About => Subject.Record(Record);

    public IEnumerable<Link> Links() => [];
}
