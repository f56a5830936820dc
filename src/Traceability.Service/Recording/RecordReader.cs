using Npgsql;
using Traceability.Core.Records;

namespace Traceability.Service.Recording;

/// <summary>One record with what other records say of it.</summary>
/// <param name="Twins">Other contents recorded under the same (source, id).</param>
/// <param name="Changes">Corrections and withdrawals that name it, in order of position.</param>
public sealed record RecordAround(Record Record, IReadOnlyList<Record> Twins, IReadOnlyList<Record> Changes);

/// <summary>Reads single records by their id, and those about a subject.</summary>
public sealed class RecordReader(NpgsqlDataSource source)
{
    public async Task<RecordAround?> OneAsync(Guid id, CancellationToken cancel)
    {
        var found = await ReadAsync("select position, bytes from trace.record where id = $1", cancel, id);
        if (found.Count == 0) return null;
        var record = found[0];
        var pair = record.Sent.RecordId;
        var twins = await ReadAsync("select position, bytes from trace.record where (id = $1 or conflict_of = $1) and id <> $2 order by position", cancel, pair, id);
        var changes = await ReadAsync(
            "select r.position, r.bytes from trace.about a join trace.record r on r.position = a.position where a.subject = $1 and r.id <> all($2) order by r.position",
            cancel, Subject.Record(pair).Key, twins.Select(t => t.Id).Append(id).ToArray());
        return new(record, twins, changes);
    }

    /// <summary>The newest records about a subject, at most so many, in order of position.</summary>
    public async Task<IReadOnlyList<Record>> AboutAsync(Subject subject, int most, CancellationToken cancel) =>
        [.. (await ReadAsync(
            "select r.position, r.bytes from trace.about a join trace.record r on r.position = a.position where a.subject = $1 order by a.position desc limit $2",
            cancel, subject.Key, most)).Reverse()];

    /// <summary>The records that say with which key a device was enrolled.</summary>
    public Task<IReadOnlyList<Record>> EnrolmentsAsync(string device, CancellationToken cancel) => ReadAsync(
        "select r.position, r.bytes from trace.about a join trace.record r on r.position = a.position where a.subject = $1 and r.type = 'device.enrolled.v1' order by a.position",
        cancel, Subject.Device(device).Key);

    private async Task<IReadOnlyList<Record>> ReadAsync(string sql, CancellationToken cancel, params object[] parameters)
    {
        await using var command = source.CreateCommand(sql);
        foreach (var parameter in parameters) command.Parameters.Add(new() { Value = parameter });
        await using var reader = await command.ExecuteReaderAsync(cancel);
        var records = new List<Record>();
        while (await reader.ReadAsync(cancel)) records.Add(Record.Read(reader.GetFieldValue<byte[]>(1), reader.GetInt64(0)));
        return records;
    }
}
