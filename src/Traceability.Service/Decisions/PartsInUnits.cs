using Microsoft.AspNetCore.Mvc;
using Npgsql;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.Service.Operations;

namespace Traceability.Service.Decisions;

/// <summary>Who tied, formed, poured, tested in production or scheduled a unit has a part in it, and gives no second approval over it.</summary>
internal static class PartsInUnits
{
    private static readonly string[] s_making =
    [
        FactCatalog.Of<UnitScheduled>().Type,
        .. FactCatalog.All.Values.Where(t => t.Kind == FactKind.Reading && t.Roles.Intersect(Roles.Production, StringComparer.Ordinal).Any()).Select(t => t.Type),
    ];

    /// <summary>The first of the units that the person has a part in; null where in none.</summary>
    public static async Task<Subject?> FirstAsync(NpgsqlConnection connection, IReadOnlyList<Subject> units, string person, CancellationToken cancel)
    {
        await using var command = new NpgsqlCommand("""
            select u.subject from unnest($1) u(subject)
            where exists (select from trace.about a join trace.record r on r.position = a.position where a.subject = u.subject and r.person = $2 and r.type = any($3))
            order by u.subject limit 1
            """, connection) { Parameters = { new() { Value = units.Select(u => u.Key).ToArray() }, new() { Value = person }, new() { Value = s_making } } };
        return await command.ExecuteScalarAsync(cancel) is string found ? Subject.Parse(found) : null;
    }

    public static ProblemDetails Refusal(string person, Subject unit) => Problems.Of(403, "second-approver", "The second person has no part in the unit",
        $"{person} made or scheduled unit {unit.Id}. Another person, who did not, approves this. Nothing was recorded.");
}
