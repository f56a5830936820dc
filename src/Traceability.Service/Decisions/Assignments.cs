using Npgsql;
using Traceability.Core.Events;
using Traceability.Service.People;

namespace Traceability.Service.Decisions;

/// <summary>Assigns people to agencies as their inspectors, for a time. An assignment that ends early is corrected.</summary>
public sealed class Assignments(DecisionRoom room, Register register, NpgsqlDataSource source, Core.Records.PlantTime time)
{
    public Task<Decided> AssignAsync(string? inspector, string? agency, DateOnly from, DateOnly? through, string? document, string person, string? pin, CancellationToken cancel)
    {
        if (inspector is null || register.Person(inspector) is not { LapsedAt: null } known || !known.Roles.Contains(Roles.AgencyInspector))
            return Task.FromResult(Decided.Wrong("person", $"must be an agency inspector in the register; '{inspector}' is none", "The administrator brings the person in with the role agency inspector first."));
        if (inspector == person) return Task.FromResult(Decided.Wrong("person", "must be another person", "Nobody assigns oneself."));
        return room.SitAsync(person, pin, async sitting =>
        {
            var fact = new InspectorAssigned(inspector, agency?.Trim() ?? "", from, through, document);
            var written = await sitting.WriteAsync(fact, cancel);
            return new(new { person = inspector, agency = fact.Agency, record = written.RecordId, position = written.Position }, null);
        }, cancel);
    }

    /// <summary>Every assignment on record, by person and first day.</summary>
    public async Task<IReadOnlyList<InspectorAssigned>> AllAsync(CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        var people = new List<string>();
        await using (var command = new NpgsqlCommand("select distinct stream from trace.record where type = $1", connection) { Parameters = { new() { Value = FactCatalog.Of<InspectorAssigned>().Type } } })
        await using (var row = await command.ExecuteReaderAsync(cancel))
        {
            while (await row.ReadAsync(cancel)) people.Add(Core.Records.Subject.Parse(row.GetString(0)).Id);
        }

        var all = new List<InspectorAssigned>();
        foreach (var person in people.Order(StringComparer.Ordinal)) all.AddRange((await AgencyVoices.AssignmentsAsync(connection, time, person, cancel)).OrderBy(a => a.From));
        return all;
    }
}
