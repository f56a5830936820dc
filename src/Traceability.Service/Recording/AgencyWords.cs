using Npgsql;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Service.Recording;

/// <summary>
/// What stations may not say for an agency: the act of a person whom nothing on record assigns to any agency, and any change of what an agency did, which
/// is made signed on at the service. Whose unit it is makes no difference here: that is judged, whatever arrives first.
/// </summary>
internal static class AgencyWords
{
    private static readonly HashSet<string> s_acts = [.. FactCatalog.All.Values.Where(t => t.Clr.IsAssignableTo(typeof(IAgencyAct))).Select(t => t.Type)];

    private static readonly string s_assigned = FactCatalog.Of<InspectorAssigned>().Type;

    private static readonly HashSet<string> s_changes = [FactCatalog.Of<RecordCorrected>().Type, FactCatalog.Of<RecordWithdrawn>().Type];

    /// <summary>The entries, those that may not count yet with the reason.</summary>
    public static async Task<IReadOnlyList<(Received Entry, CloudEvent Sent)>> WeighAsync(NpgsqlConnection connection, IReadOnlyList<(Received Entry, CloudEvent Sent)> entries, CancellationToken cancel)
    {
        static bool Asked((Received Entry, CloudEvent Sent) e) => e.Entry.Quarantine is null && e.Sent.Source != Recorder.DecisionsSource && (s_acts.Contains(e.Sent.Type) || s_changes.Contains(e.Sent.Type));
        if (!entries.Any(Asked)) return entries;
        var assigned = entries.Where(e => e.Entry.Quarantine is null && e.Sent.Type == s_assigned).Select(e => e.Sent.Data.GetProperty("person").GetString()!).ToHashSet(StringComparer.Ordinal);
        var acts = entries.Where(e => s_acts.Contains(e.Sent.Type)).Select(e => e.Sent.RecordId).ToHashSet();
        var people = entries.Where(Asked).Select(e => e.Sent.Person).OfType<string>().Distinct().ToArray();
        await using (var command = new NpgsqlCommand("select distinct stream from trace.record where type = $1 and stream = any($2)", connection)
        { Parameters = { new() { Value = s_assigned }, new() { Value = people.Select(p => "person:" + p).ToArray() } } })
        await using (var row = await command.ExecuteReaderAsync(cancel))
        {
            while (await row.ReadAsync(cancel)) assigned.Add(Subject.Parse(row.GetString(0)).Id);
        }

        var targets = entries.Where(Asked).Select(e => Target(e.Sent)).OfType<Guid>().ToArray();
        await using (var command = new NpgsqlCommand("select id from trace.record where id = any($1) and type = any($2)", connection) { Parameters = { new() { Value = targets }, new() { Value = s_acts.ToArray() } } })
        await using (var row = await command.ExecuteReaderAsync(cancel))
        {
            while (await row.ReadAsync(cancel)) acts.Add(row.GetGuid(0));
        }

        return [.. entries.Select(e => Asked(e) && Reason(e.Sent) is { } reason ? (e.Entry with { Quarantine = reason }, e.Sent) : e)];

        string? Reason(CloudEvent sent) =>
            s_acts.Contains(sent.Type) ? sent.Person is { } person && assigned.Contains(person) ? null : Unassigned(sent.Person)
            : Target(sent) is { } target && acts.Contains(target) ? "what an agency did is corrected and withdrawn signed on at the service, not from a station" : null;
    }

    /// <summary>Why an entry that was set apart before may not count by a confirmation either; null where it may.</summary>
    public static async Task<string?> RefusalAsync(NpgsqlConnection connection, SetApart entry, CloudEvent sent, CancellationToken cancel) =>
        (await WeighAsync(connection, [(entry.Received(), sent)], cancel))[0].Entry.Quarantine;

    /// <summary>Records what waited for an assignment that is recorded now: whichever came first, the same is recorded.</summary>
    public static async Task LetThroughAsync(Writing writing, IEnumerable<IFact> recorded, CancellationToken cancel)
    {
        foreach (var person in recorded.OfType<InspectorAssigned>().Select(a => a.Person).Distinct().ToList())
        {
            foreach (var entry in await SetApart.ReadAsync(writing.Connection, $"select {SetApart.Columns} from trace.quarantine where cleared_at is null and person = $1 and reason = $2 order by received_at, id", cancel, person, Unassigned(person)))
            {
                var received = entry.Received();
                if ((await writing.AddAsync([(received, CloudEvent.ReadCanonical(entry.Bytes))], cancel))[0].Status == EntryStatus.Quarantined) continue;
                await using var mark = new NpgsqlCommand("update trace.quarantine set cleared_by = $3, cleared_at = $4 where id = $1 and content_hash = $2", writing.Connection)
                { Parameters = { new() { Value = entry.Id }, new() { Value = entry.ContentHash }, new() { Value = "the assignment" }, new() { Value = writing.RecordedAt.UtcDateTime } } };
                await mark.ExecuteNonQueryAsync(cancel);
            }
        }
    }

    private static string Unassigned(string? person) => $"{person ?? "nobody named"} is assigned to no agency as its inspector";

    private static Guid? Target(CloudEvent sent) => s_changes.Contains(sent.Type) ? sent.Data.GetProperty("record").GetGuid() : null;
}
