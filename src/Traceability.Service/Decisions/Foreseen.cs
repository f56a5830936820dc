using Npgsql;
using Traceability.Core.Dossiers;
using Traceability.Core.Records;

namespace Traceability.Service.Decisions;

/// <summary>Something that was judged outside changed before it was written: it is judged anew outside, and nothing of this turn is written.</summary>
internal sealed class ChangedMeanwhileException() : Exception("a record that bears on what was judged came before it was written");

/// <summary>
/// What was judged for one decision outside the writing transaction, each with what a newcomer must name to bear on it. Inside, one look at what came
/// since tells which still holds; the rest is forgotten, so that nothing is written on a judgement that is stale.
/// </summary>
/// <param name="now">The moment of the decision: it is judged, and recorded, as of this moment, however often it is judged anew.</param>
internal sealed class Foreseen(DateTimeOffset now)
{
    private readonly Dictionary<(Subject Unit, long? Past, string Drafts), (JudgedUnit Unit, Bearing? Bearing)> _seen = [];
    private readonly List<Guid> _events = [];

    public DateTimeOffset Now => now;

    /// <summary>The newest position when it was last looked.</summary>
    public long Position { get; private set; }

    /// <summary>The id of the decision's n-th record, the same each time it is taken up, so that what was judged with it is what is written.</summary>
    public Guid Event(int number)
    {
        while (_events.Count <= number) _events.Add(Guid.CreateVersion7(now));
        return _events[number];
    }

    /// <param name="past">As known at this position; null for now.</param>
    /// <param name="drafts">Names the decision's own records that it was judged with.</param>
    public JudgedUnit? Find(Subject unit, long? past, string drafts) => _seen.TryGetValue((unit, past, drafts), out var seen) ? seen.Unit : null;

    /// <param name="bearing">Null where nothing that comes can change it: as known at a position of the past.</param>
    public void Keep(JudgedUnit unit, long? past, string drafts, Bearing? bearing) => _seen[(unit.Dossier.Unit, past, drafts)] = (unit, bearing);

    /// <summary>Forgets what rests on less than there is by now. Every position is taken under the recorder's lock, so nothing comes in below the newest.</summary>
    public async Task CatchUpAsync(NpgsqlConnection connection, CancellationToken cancel)
    {
        var subjects = new HashSet<string>(StringComparer.Ordinal);
        var records = new HashSet<Guid>();
        var newest = Position;
        await using (var command = new NpgsqlCommand(_seen.Count == 0 ? "select coalesce(max(position), 0), null::uuid, null::text from trace.record"
            : "select r.position, r.id, a.subject from trace.record r left join trace.about a on a.position = r.position where r.position > $1", connection))
        {
            if (_seen.Count > 0) command.Parameters.Add(new() { Value = Position });
            await using var row = await command.ExecuteReaderAsync(cancel);
            while (await row.ReadAsync(cancel))
            {
                newest = Math.Max(newest, row.GetInt64(0));
                if (!row.IsDBNull(1)) records.Add(row.GetGuid(1));
                if (!row.IsDBNull(2)) subjects.Add(row.GetString(2));
            }
        }

        if (records.Count > 0)
        {
            foreach (var stale in _seen.Where(s => s.Value.Bearing is { } bearing && (bearing.IsMetBy(Guid.Empty, subjects) || records.Any(r => bearing.IsMetBy(r, [])))).Select(s => s.Key).ToList()) _seen.Remove(stale);
        }

        Position = newest;
    }
}
