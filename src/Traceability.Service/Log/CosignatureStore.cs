using Npgsql;

namespace Traceability.Service.Log;

/// <summary>Cosignatures of our checkpoints. Only those of the witnesses in the settings are kept, each once a checkpoint.</summary>
public sealed class CosignatureStore(NpgsqlDataSource database, Witnesses witnesses, TimeProvider time)
{
    /// <summary>Takes the signature lines under a checkpoint of ours.</summary>
    /// <returns>How many are known now; null where the text is no checkpoint of ours.</returns>
    public async Task<int?> TakeAsync(string note, CancellationToken cancellation)
    {
        var split = note.IndexOf("\n\n", StringComparison.Ordinal);
        if (split < 0)
        {
            return null;
        }

        var text = note[..(split + 1)];
        var lines = text.Split('\n');
        if (lines.Length < 4 || !long.TryParse(lines[1], System.Globalization.NumberStyles.None, System.Globalization.CultureInfo.InvariantCulture, out var size))
        {
            return null;
        }

        await using var connection = await database.OpenConnectionAsync(cancellation);
        await using (var ours = new NpgsqlCommand("select note from trace.checkpoint where origin = $1 and size = $2", connection)
        {
            Parameters = { new() { Value = lines[0] }, new() { Value = size } },
        })
        {
            if (await ours.ExecuteScalarAsync(cancellation) is not string known || !known.StartsWith(text + "\n", StringComparison.Ordinal))
            {
                return null;
            }
        }

        var taken = 0;
        foreach (var line in note[(split + 2)..].Split('\n', StringSplitOptions.RemoveEmptyEntries).Take(64))
        {
            foreach (var witness in witnesses.All)
            {
                if (witness.CosignedAt(text, line) is not { } at)
                {
                    continue;
                }

                await using var keep = new NpgsqlCommand(
                    """
                    insert into trace.cosignature (origin, size, witness, key_id, line, cosigned_at, received_at)
                    values ($1, $2, $3, $4, $5, $6, $7) on conflict do nothing
                    """,
                    connection)
                {
                    Parameters =
                    {
                        new() { Value = lines[0] }, new() { Value = size }, new() { Value = witness.Name }, new() { Value = witness.KeyId },
                        new() { Value = line }, new() { Value = at }, new() { Value = time.GetUtcNow() },
                    },
                };
                await keep.ExecuteNonQueryAsync(cancellation);
                taken++;
            }
        }

        return taken;
    }

    /// <summary>The signed note of a checkpoint, with the cosignature lines known of it below the log's own.</summary>
    public async Task<string> NoteAsync(SealedCheckpoint checkpoint, CancellationToken cancellation)
    {
        await using var command = database.CreateCommand("select line from trace.cosignature where origin = $1 and size = $2 order by witness, cosigned_at");
        command.Parameters.Add(new() { Value = checkpoint.Origin });
        command.Parameters.Add(new() { Value = checkpoint.Size });
        await using var rows = await command.ExecuteReaderAsync(cancellation);
        var note = checkpoint.Note;
        while (await rows.ReadAsync(cancellation))
        {
            note += rows.GetString(0) + "\n";
        }

        return note;
    }

    /// <summary>The largest size that a witness cosigned; 0 before the first.</summary>
    public async Task<long> LastAsync(Witness witness, string origin, CancellationToken cancellation)
    {
        await using var command = database.CreateCommand("select coalesce(max(size), 0) from trace.cosignature where origin = $1 and witness = $2 and key_id = $3");
        command.Parameters.Add(new() { Value = origin });
        command.Parameters.Add(new() { Value = witness.Name });
        command.Parameters.Add(new() { Value = witness.KeyId });
        return (long)(await command.ExecuteScalarAsync(cancellation))!;
    }
}
