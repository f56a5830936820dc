using Npgsql;

namespace Traceability.Service.People;

/// <summary>A kiosk at which a person signed on.</summary>
public sealed record SignOn(string Person, string Device, DateTimeOffset At);

/// <summary>
/// Where people signed on lately. Two devices of one person are allowed, a tablet and a wall kiosk, and shown: to the person at
/// the sign-on, to the administrator on the people page. Kept beside the way of the facts: a sign-on does not wait for it.
/// </summary>
public sealed class SignOns(NpgsqlDataSource source, TimeProvider clock)
{
    /// <summary>A shift with its overtime. Our own choice.</summary>
    public static readonly TimeSpan Shown = TimeSpan.FromHours(12);

    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(1);

    /// <summary>Notes a sign-on.</summary>
    /// <returns>Other devices the person signed on at within <see cref="Shown"/>; none while the database is away.</returns>
    public async Task<IReadOnlyList<SignOn>> NoteAsync(string person, string device, CancellationToken cancel)
    {
        using var limit = CancellationTokenSource.CreateLinkedTokenSource(cancel);
        limit.CancelAfter(Patience);
        try
        {
            await using (var note = source.CreateCommand("insert into trace.sign_on (person, device, at) values ($1, $2, $3) on conflict (person, device) do update set at = excluded.at"))
            {
                foreach (var value in new object[] { person, device, clock.GetUtcNow().UtcDateTime }) note.Parameters.Add(new() { Value = value });
                await note.ExecuteNonQueryAsync(limit.Token);
            }

            return [.. (await ReadAsync(limit.Token)).Where(s => s.Person == person && s.Device != device)];
        }
        catch (Exception e) when (Recording.Recorder.IsAway(e) && !cancel.IsCancellationRequested)
        {
            return [];
        }
    }

    /// <summary>Everybody's, the newest first.</summary>
    public async Task<ILookup<string, SignOn>> AllAsync(CancellationToken cancel) => (await ReadAsync(cancel)).ToLookup(s => s.Person, StringComparer.Ordinal);

    private async Task<IReadOnlyList<SignOn>> ReadAsync(CancellationToken cancel)
    {
        await using var command = source.CreateCommand("select person, device, at from trace.sign_on where at > $1 order by at desc, device");
        command.Parameters.Add(new() { Value = (clock.GetUtcNow() - Shown).UtcDateTime });
        await using var reader = await command.ExecuteReaderAsync(cancel);
        var found = new List<SignOn>();
        while (await reader.ReadAsync(cancel)) found.Add(new(reader.GetString(0), reader.GetString(1), reader.GetFieldValue<DateTimeOffset>(2)));
        return found;
    }
}
