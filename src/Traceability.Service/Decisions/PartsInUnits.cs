using Microsoft.AspNetCore.Mvc;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.Service.Operations;

namespace Traceability.Service.Decisions;

/// <summary>Who tied, formed, poured, tested in production or scheduled a unit has a part in it, and gives no second approval over it.</summary>
internal static class PartsInUnits
{
    public static bool Has(Dossier dossier, string person) => dossier.Records.Any(r => r.Person == person
        && (r.Fact is UnitScheduled || (r.Fact is { } made && FactCatalog.Of(made) is { Kind: FactKind.Reading } type && type.Roles.Intersect(Roles.Production, StringComparer.Ordinal).Any()))
        && r.Links().Any(l => l.Kind == LinkKind.About && l.From == dossier.Unit));

    /// <summary>The first of the units that the person has a part in; null where in none. Only where the sitting was rehearsed.</summary>
    public static async Task<Subject?> FirstAsync(Sitting sitting, IReadOnlyList<Subject> units, string person, CancellationToken cancel)
    {
        foreach (var unit in units.Take(Restatement.MostJudged))
        {
            if (Has((await sitting.JudgeBeforeAsync(unit, cancel)).Dossier, person)) return unit;
        }

        return null;
    }

    public static ProblemDetails Refusal(string person, Subject unit) => Problems.Of(403, "second-approver", "The second person has no part in the unit",
        $"{person} made or scheduled unit {unit.Id}. Another person, who did not, approves this. Nothing was recorded.");
}
