using System.Text;
using Npgsql;
using Traceability.Core.Records;

namespace Traceability.Service.Recording;

/// <summary>A fact that was taken in and does not count: quarantined by intake, or parked because it could not be recorded.</summary>
/// <param name="Bytes">Its canonical bytes, exactly as they will be recorded.</param>
/// <param name="SetApartAt">When it was received into quarantine, or parked.</param>
/// <param name="SettledAt">When it was cleared or recorded after all; null while it waits.</param>
public sealed record SetApart(
    Guid Id, string ContentHash, string Source, string EventId, string Type, string Device, string? Person, string Assurance, string Reason,
    byte[] Bytes, DateTimeOffset ReceivedAt, DateTimeOffset SetApartAt, DateTimeOffset? SettledAt, string? SettledBy, DeviceSignature? Signature)
{
    /// <summary>Columns of trace.quarantine in the order of the members.</summary>
    internal const string Columns = "id, content_hash, source, event_id, type, device, person, assurance, reason, bytes, received_at, received_at, cleared_at, cleared_by, signature_key, signature";

    /// <summary>The fact as it goes to the recorder, with what was decided of it added to its assurance.</summary>
    internal Received Received(string decided = "") => new(Bytes, Device, Assurance + decided, ReceivedAt, null, System.Diagnostics.Activity.Current?.Id, Signature: Signature);

    public string Text => Encoding.UTF8.GetString(Bytes);

    /// <summary>How the store writes it.</summary>
    internal static string Name(WaitsFor waits) => waits.ToString().ToLowerInvariant();

    /// <summary>What the sender is told of a fact that waits so.</summary>
    internal static EntryStatus StatusOf(WaitsFor waits) => waits switch
    {
        WaitsFor.Person => EntryStatus.Claimed,
        WaitsFor.Weighing => EntryStatus.Weighing,
        WaitsFor.Record => EntryStatus.Early,
        WaitsFor.Second => EntryStatus.Approval,
        _ => EntryStatus.Quarantined,
    };

    internal static async Task<IReadOnlyList<SetApart>> ReadAsync(NpgsqlConnection connection, string sql, CancellationToken cancel, params object[] parameters)
    {
        await using var command = new NpgsqlCommand(sql, connection);
        foreach (var parameter in parameters) command.Parameters.Add(new() { Value = parameter });
        await using var row = await command.ExecuteReaderAsync(cancel);
        var found = new List<SetApart>();
        while (await row.ReadAsync(cancel))
        {
            found.Add(new(row.GetGuid(0), row.GetString(1), row.GetString(2), row.GetString(3), row.GetString(4), row.GetString(5),
                await row.IsDBNullAsync(6, cancel) ? null : row.GetString(6), row.GetString(7), row.GetString(8), row.GetFieldValue<byte[]>(9),
                row.GetFieldValue<DateTimeOffset>(10), row.GetFieldValue<DateTimeOffset>(11),
                await row.IsDBNullAsync(12, cancel) ? null : row.GetFieldValue<DateTimeOffset>(12), await row.IsDBNullAsync(13, cancel) ? null : row.GetString(13),
                await row.IsDBNullAsync(14, cancel) ? null : new(row.GetString(14), row.GetString(15))));
        }

        return found;
    }
}

/// <summary>What came of letting a fact that was set apart through.</summary>
/// <param name="Recorded">What became of it; null when it stays where it is.</param>
/// <param name="Entry">The fact; null when there is none under this id and content.</param>
/// <param name="Why">Why it stays; null when it was recorded.</param>
public sealed record LetThrough(Outcome? Recorded, SetApart? Entry, string? Why);
