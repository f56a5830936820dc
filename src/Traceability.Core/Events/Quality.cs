using System.Text.Json;
using Traceability.Core.Dossiers;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>
/// A full replacement of one version of a record. The first version is 1; each correction makes the next.
/// Two for one version are a conflict, and neither counts.
/// </summary>
/// <param name="Type">Type of the replaced content; a correction cannot change what kind of fact it is.</param>
/// <param name="Data">The whole corrected content.</param>
/// <param name="OccurredAt">Corrected time; null keeps the time of the original.</param>
[Fact("record.corrected", 1, Role = Roles.QualityEngineer, Summary = "A record was corrected by a full replacement of its content.")]
public sealed record RecordCorrected(Guid Record, int ReplacedVersion, string Type, JsonElement Data, string Reason, DateTimeOffset? OccurredAt = null) : IFact
{
    private IFact? _replacement;

    public Subject About => Subject.Record(Record);

    /// <summary>The corrected content; throws <see cref="FactShapeException"/> when it does not have the shape of its type.</summary>
    public IFact Replacement => _replacement ??= FactCatalog.All.TryGetValue(Type, out var type)
        ? FactCatalog.Read(type, Data)
        : throw new FactShapeException([new("data.type", $"'{Type}' is not a known fact type", "Name the type of the record that is replaced.")]);

    // The corrected fact may touch other subjects than the one it replaces; both must find it.
    public IEnumerable<Link> Links() => Dossiers.Links.Of(Replacement);

    public IEnumerable<ShapeProblem> Check()
    {
        if (ReplacedVersion < 1) yield return new("data.replacedVersion", "must be 1 or more", "The first version of a record is 1.");
        foreach (var p in Shape.Text("data.reason", Reason, 500)) yield return p;
        IReadOnlyList<ShapeProblem> inner = [];
        try
        {
            if (Replacement is RecordCorrected or RecordWithdrawn)
                inner = [new("data.type", "must not be a correction or a withdrawal", "Correct the record itself, naming its newest version.")];
        }
        catch (FactShapeException e)
        {
            inner = e.Problems;
        }

        foreach (var p in inner) yield return p;
    }
}

[Fact("record.withdrawn", 1, Role = Roles.QualityEngineer, Summary = "A record was withdrawn: it never should have been made.")]
public sealed record RecordWithdrawn(Guid Record, int WithdrawnVersion, string Reason) : IFact
{
    public Subject About => Subject.Record(Record);

    public IEnumerable<Link> Links() => [];

    public IEnumerable<ShapeProblem> Check()
    {
        if (WithdrawnVersion < 1) yield return new("data.withdrawnVersion", "must be 1 or more", "The first version of a record is 1.");
        foreach (var p in Shape.Text("data.reason", Reason, 500)) yield return p;
    }
}
