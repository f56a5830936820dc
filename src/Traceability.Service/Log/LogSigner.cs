using System.Data;
using System.Globalization;
using System.Text.Json;
using Npgsql;
using Traceability.Service.Operations;

namespace Traceability.Service.Log;

/// <summary>A signed checkpoint and when it was signed.</summary>
public sealed record SealedCheckpoint(string Origin, long Size, byte[] Root, string Note, DateTimeOffset SealedAt);

/// <summary>Where the signer keeps what is its own.</summary>
/// <param name="Origin">Name of the log, as in <c>plant.example/records</c>; used while the signer has no file yet.</param>
/// <param name="KeyFile">PKCS#8 PEM of the Ed25519 key; made at first use.</param>
/// <param name="StateFile">The signer's own memory; belongs on a disk that a restore of the database leaves alone.</param>
/// <param name="MemoryFile">A file on another machine that keeps the newest checkpoint; null for none.</param>
public sealed record LogSignerOptions(string Origin, string KeyFile, string StateFile, string? MemoryFile = null);

/// <summary>
/// Seals the committed leaves: re-derives the root, signs it, keeps it for itself and then publishes it. It signs
/// nothing that does not continue what it signed before, whatever the database holds.
/// </summary>
public sealed class LogSigner(NpgsqlDataSource database, LogSignerOptions options, TimeProvider time, ILogger<LogSigner> logger, OutsideMemory? outside = null)
{
    private const int Page = 65_536;
    private const int AuditTilesPerPass = 4;

    // Any number will do as long as nothing else uses it: one signer at a time.
    private const long LockKey = 0x6C6F672D73656131;

    private readonly Lock _keyIsRead = new();
    private LogKey? _key;
    private volatile bool _wholeLogChecked;
    private long _auditTile;

    /// <summary>Why the signer last refused; null while it works.</summary>
    public string? Refusal { get; private set; }

    /// <summary>The key it signs with.</summary>
    public LogKey Key
    {
        get
        {
            // The log and the packets are signed side by side: on a first start each would make a key of its own, and the file keep only one.
            lock (_keyIsRead) return _key ??= LogKey.LoadOrCreate(options.KeyFile);
        }
    }

    private string NextKeyFile => Path.ChangeExtension(options.KeyFile, ".next.pem");

    /// <summary>The log it signs, by its own file, or by its options before the first signature.</summary>
    public string Origin => SignerState.Read(options.StateFile)?.Origin ?? options.Origin;

    /// <summary>What it last signed, by its own memory; null before the first signature.</summary>
    public SealedCheckpoint? Sealed => SignerState.Read(options.StateFile) is { Note.Length: > 0 } own
        ? new SealedCheckpoint(own.Origin, own.Size, Convert.FromHexString(own.Root), own.Note, default)
        : null;

    /// <summary>
    /// Seals what is committed now. The first pass of a process reads the whole log again; later ones the leaves since the
    /// last whole tile and a few old tiles in turn.
    /// </summary>
    /// <returns>The new checkpoint; null if there is nothing new or another signer is at it.</returns>
    /// <exception cref="LogContradictionException">The database's log is not the one this signer signed.</exception>
    public async Task<SealedCheckpoint?> SealOnceAsync(CancellationToken cancellation)
    {
        try
        {
            var result = await SealAsync(cancellation);
            Refusal = null;
            return result;
        }
        catch (LogContradictionException e)
        {
            Refusal = e.Message;
            logger.LogCritical(e, "The signer refuses to seal the log: {Reason}", e.Message);
            throw;
        }
    }

    /// <summary>The key as one line, which names its log, for those who check packets.</summary>
    private void SayKey(string origin)
    {
        var (file, line) = (LogKey.LineFile(options.KeyFile), Key.VerifierKey(origin) + "\n");
        if (!File.Exists(file) || File.ReadAllText(file) != line)
        {
            File.WriteAllText(file, line);
        }
    }

    private async Task<SealedCheckpoint?> SealAsync(CancellationToken cancellation)
    {
        await using var connection = await database.OpenConnectionAsync(cancellation);
        await using var transaction = await connection.BeginTransactionAsync(IsolationLevel.RepeatableRead, cancellation);
        if (!await LockAsync(connection, cancellation))
        {
            return null;
        }

        var kept = SignerState.Read(options.StateFile);
        if (kept is { Note.Length: 0, Ended.Count: 0 } && kept.Origin != options.Origin && await LogReader.LatestAsync(connection, null, cancellation) is null)
        {
            // Nothing was signed yet: the name may still be chosen.
            kept = null;
        }

        var published = await LogReader.LatestAsync(connection, kept?.Origin, cancellation);
        var own = OwnState(kept, published);
        var behind = published is null || published.Size < own.Size;
        // Asked before the first signature of a process, and again when a witness disagrees.
        var shown = _wholeLogChecked || outside is null ? [] : await outside.ShownAsync(own.Origin, Key.PublicKey, cancellation);
        var from = _wholeLogChecked && !behind ? own.Size / TileWriter.Width * TileWriter.Width : 0;
        var tiles = await TileWriter.ResumeAsync(connection, from, cancellation);
        if (tiles is null)
        {
            from = 0;
            tiles = new TileWriter();
        }

        var range = from == 0 ? new CompactRange() : own.Range().Floor(8);
        await ReadAsync(connection, own, published, shown, range, tiles, cancellation);
        await LeavesMustBeRecordsAsync(connection, own.Size, range.Size, cancellation);
        // A log that goes on under a new name begins with what was signed under the old one.
        await TimesMustRiseAsync(connection, Math.Min(range.Size, own.Size > 0 || own.Ended.Count == 0 ? own.Size : own.Ended[^1].Size), range.Size, cancellation);
        _wholeLogChecked = true;
        if (range.Size == own.Size && !behind)
        {
            await AuditAsync(connection, own, cancellation);
            await transaction.CommitAsync(cancellation);
            return null;
        }

        if (range.Size == 0)
        {
            return null;
        }

        // A memory that a power cut left behind the published checkpoint, whose root was just derived anew: that is what it signed.
        var takenUp = range.Size == published?.Size;
        var sealedAt = time.GetUtcNow();
        var next = range.Size == own.Size
            ? own
            : own.Sealed(range, takenUp ? published!.Note : new Checkpoint(own.Origin, range.Size, range.Root()).Sign(Key));

        // The signer's own file comes first: what it may have shown to anyone, it must remember.
        next.Write(options.StateFile);
        SayKey(next.Origin);
        if (takenUp)
        {
            await transaction.CommitAsync(cancellation);
            logger.LogWarning("Took up {Origin} at {Size} records by proof: the signer's own file was behind", next.Origin, next.Size);
            return null;
        }

        await PublishAsync(connection, next, sealedAt, cancellation);
        // A plant that is never quiet is audited too.
        await AuditAsync(connection, next, cancellation);
        await transaction.CommitAsync(cancellation);
        logger.LogInformation("Sealed {Size} records of {Origin} under root {Root}", next.Size, next.Origin, next.Root);
        return new SealedCheckpoint(next.Origin, next.Size, Convert.FromHexString(next.Root), next.Note, sealedAt);
    }

    /// <summary>
    /// Ends the log that can no longer be continued and starts another over the leaves the database still has. Its
    /// first leaf names the last checkpoint of the old one. For a person to call, with the writers stopped.
    /// </summary>
    /// <param name="newOrigin">A name no log of this signer had.</param>
    /// <param name="change">What becomes of the key.</param>
    /// <param name="cancellation">Stops before anything is changed.</param>
    /// <exception cref="LogContradictionException">Nothing was signed yet, so there is nothing to end.</exception>
    public async Task<SealedCheckpoint?> StartNewOriginAsync(string newOrigin, CancellationToken cancellation, KeyChange change = KeyChange.Keep)
    {
        SignedNote.CheckName(newOrigin);
        await using (var connection = await database.OpenConnectionAsync(cancellation))
        await using (var transaction = await connection.BeginTransactionAsync(cancellation))
        {
            var old = SignerState.Read(options.StateFile) ?? await FromDatabaseAsync(connection, null, [], cancellation);
            if (old.Note.Length == 0 && old.Origin != newOrigin)
            {
                old = await FromDatabaseAsync(connection, old.Origin, old.Ended, cancellation);
            }

            if (old.Origin != newOrigin)
            {
                if (!await LockAsync(connection, cancellation))
                {
                    throw new InvalidOperationException("Another signer is at work on this log; stop it first.");
                }

                var isOldKey = old.PublicKey == Convert.ToHexStringLower(Key.PublicKey);
                if (change == KeyChange.Lost && isOldKey)
                {
                    throw new ArgumentException($"The key of {old.Origin} is here: it is not lost. Let it sign for its successor.", nameof(change));
                }

                if (change != KeyChange.Lost && !isOldKey)
                {
                    throw new LogContradictionException($"The key in {options.KeyFile} is not the one that signed {old.Origin}. Put it back; if it is lost for good, say so, and the new log will.");
                }

                var ended = new EndedLog(old.Origin, old.Size, old.Root, old.Note);
                var next = change == KeyChange.Succeed ? LogKey.LoadOrCreate(NextKeyFile) : Key;
                var statement = change == KeyChange.Lost ? null : Succession.Sign(ended, newOrigin, Key, next);
                await NewOrigin.StartAsync(connection, old, newOrigin, statement, time.GetUtcNow(), cancellation);
                await transaction.CommitAsync(cancellation);

                // A stop between these leaves the signer refusing, and this call may be made again.
                var state = SignerState.Start(newOrigin, next, [.. old.Ended, ended]);
                state.Write(options.StateFile);
                FinishKeyChange(state, state.Ended.Count);
                logger.LogWarning("{Origin} ended at {Size} leaves; {NewOrigin} continues", old.Origin, old.Size, newOrigin);
            }
        }

        _wholeLogChecked = false;
        return await SealOnceAsync(cancellation);
    }

    /// <summary>What is known of the log to be ended when the signer's own file is gone too, or was left empty.</summary>
    private async Task<SignerState> FromDatabaseAsync(NpgsqlConnection connection, string? origin, IReadOnlyList<EndedLog> ended, CancellationToken cancellation)
    {
        var last = await LogReader.LatestAsync(connection, origin, cancellation)
            ?? throw new LogContradictionException($"{origin ?? "Nothing"} was never signed: there is nothing to end.");
        return SignerState.Start(last.Origin, Key, ended) with
        {
            Size = last.Size, Root = Convert.ToHexStringLower(last.Root), Note = last.Note,
        };
    }

    /// <summary>Reads the whole log and asks outside again before the next signature.</summary>
    public void LookOutsideAgain() => _wholeLogChecked = false;

    /// <summary>Takes the new key into use once the state says that it signs: also after a stop in between.</summary>
    private void FinishKeyChange(SignerState own, int ended)
    {
        if (!File.Exists(NextKeyFile) || own.PublicKey == Convert.ToHexStringLower(Key.PublicKey))
        {
            return;
        }

        var next = LogKey.Load(NextKeyFile);
        if (own.PublicKey != Convert.ToHexStringLower(next.PublicKey))
        {
            return;
        }

        var put = Path.ChangeExtension(options.KeyFile, string.Create(CultureInfo.InvariantCulture, $".ended-{ended}.pem"));
        // After a stop in between, the old key lies there already; what stands in its place then must not take that one's.
        if (!File.Exists(put))
        {
            File.Move(options.KeyFile, put);
            File.Move(LogKey.PublicFile(options.KeyFile), LogKey.PublicFile(put), overwrite: true);
        }

        File.Move(NextKeyFile, options.KeyFile, overwrite: true);
        File.WriteAllText(LogKey.PublicFile(options.KeyFile), next.PublicPem());
        File.Delete(LogKey.PublicFile(NextKeyFile));
        DurableFile.FlushFolder(Path.GetDirectoryName(Path.GetFullPath(options.KeyFile))!);
        lock (_keyIsRead) _key = next;
    }

    /// <summary>
    /// The memory to go on from. One that is behind what the database holds, or empty, of the same log, is taken up by proof:
    /// the key signed that checkpoint, and its root is derived anew before anything else is signed.
    /// </summary>
    private SignerState OwnState(SignerState? kept, SealedCheckpoint? published)
    {
        var own = kept ?? SignerState.Start(options.Origin, Key, []);
        FinishKeyChange(own, own.Ended.Count);
        if (own.PublicKey != Convert.ToHexStringLower(Key.PublicKey))
        {
            throw new LogContradictionException(
                $"The key in {options.KeyFile} is not the one that signed {own.Origin}. Put the key back, or start a new origin.");
        }

        if (published is not null)
        {
            var signed = Checkpoint.Open(published.Note, Key.PublicKey);
            if (signed is null || signed.Origin != published.Origin || signed.Size != published.Size
                || !signed.Root.AsSpan().SequenceEqual(published.Root))
            {
                throw new LogContradictionException(string.Create(
                    CultureInfo.InvariantCulture, $"The database holds a checkpoint of {published.Size} leaves that this signer's key did not sign."));
            }

            if (kept is null)
            {
                throw new LogContradictionException(string.Create(CultureInfo.InvariantCulture,
                    $"The database holds a checkpoint of {published.Size} leaves, but the signer's own file {options.StateFile} is missing. Put it back, or start a new origin."));
            }
        }
        else if (kept is null)
        {
            // Before anything is signed: from now on a file that is missing was lost, and is not merely not made yet.
            own.Write(options.StateFile);
        }

        return own;
    }

    /// <summary>Reads the leaves on, and compares the roots at the signer's size and at the published one on the way.</summary>
    private async Task ReadAsync(
        NpgsqlConnection connection, SignerState own, SealedCheckpoint? published, IReadOnlyList<(string By, Checkpoint Shown)> shown,
        CompactRange range, TileWriter tiles, CancellationToken cancellation)
    {
        var remade = 0;
        byte[][] leaves;
        do
        {
            leaves = await TileReader.LeavesAsync(connection, range.Size, Page, cancellation);
            foreach (var leaf in leaves)
            {
                range.Append(leaf);
                tiles.Append(leaf);
                if (range.Size == own.Size)
                {
                    await MustBeAsync(range, Convert.FromHexString(own.Root), cancellation);
                }

                if (range.Size == published?.Size)
                {
                    await MustBeAsync(range, published.Root, cancellation);
                }

                foreach (var (by, seen) in shown)
                {
                    if (range.Size == seen.Size && !range.Root().AsSpan().SequenceEqual(seen.Root))
                    {
                        throw new LogContradictionException(string.Create(CultureInfo.InvariantCulture,
                            $"Two histories: at {seen.Size} leaves {by} holds a checkpoint of this log with another root. Database and signer were set back together (a restored backup?) and went on otherwise. Find the cause, then start a new origin."));
                    }
                }
            }

            remade += await tiles.FlushAsync(connection, cancellation);
        }
        while (leaves.Length == Page);

        var signed = Math.Max(own.Size, published?.Size ?? 0);
        if (range.Size < signed)
        {
            throw new LogContradictionException(string.Create(
                CultureInfo.InvariantCulture,
                $"The log shrank: {signed} leaves were signed, the database holds {range.Size}. After a restore that lost leaves, start a new origin."));
        }

        if (shown.FirstOrDefault(s => s.Shown.Size > range.Size) is { By: not null } further)
        {
            throw new LogContradictionException(string.Create(CultureInfo.InvariantCulture,
                $"{further.By} holds a checkpoint of {further.Shown.Size} leaves of this log, the database has {range.Size}: database and signer were set back together, as a restored backup of the whole machine does. Nothing was signed. Find the cause, then start a new origin."));
        }

        if (remade > 0)
        {
            logger.LogWarning("{Tiles} tiles did not agree with the leaves and were made again", remade);
        }
    }

    /// <summary>
    /// Leaf by leaf: it is the hash of the record's stored bytes, and no record between two leaves was left out. A leaf
    /// without a record is only the first of a log that continues another; its position is not above 0.
    /// </summary>
    private static async Task LeavesMustBeRecordsAsync(
        NpgsqlConnection connection, long low, long high, CancellationToken cancellation)
    {
        if (low == high)
        {
            return;
        }

        // Positions as parameters, so that the planner sees how narrow the span is.
        var after = await PositionAsync(connection, low - 1, cancellation);
        var until = await PositionAsync(connection, high - 1, cancellation);
        await using var command = new NpgsqlCommand(
            """
            select coalesce(r.position, l.position), coalesce(r.id, l.record_id), case
                when l.record_id is null then 'has no leaf'
                when r.id is null then 'has a leaf and is not stored'
                else 'is not the one its leaf was made from: the stored bytes were changed' end
            from (select position, id, bytes from trace.record where position > $3 and position <= $4) r
            full join (select position, record_id, hash from trace.log_leaf where index >= $1 and index < $2 and position > 0) l
                on l.record_id = r.id
            where l.record_id is null or r.id is null or l.hash <> sha256('\x00'::bytea || r.bytes)
            order by 1 limit 1
            """,
            connection)
        {
            Parameters = { new() { Value = low }, new() { Value = high }, new() { Value = after }, new() { Value = until } },
        };
        await using var row = await command.ExecuteReaderAsync(cancellation);
        if (await row.ReadAsync(cancellation))
        {
            throw new LogContradictionException(string.Create(
                CultureInfo.InvariantCulture, $"Record {row.GetGuid(1)} at position {row.GetInt64(0)} {row.GetString(2)}."));
        }
    }

    /// <summary>
    /// What is to be signed was recorded in the order in which it stands: no record bears an earlier time than the one before it. What was signed already
    /// is what it is. The times are those in the bytes, whose texts sort as the moments do.
    /// </summary>
    private static async Task TimesMustRiseAsync(NpgsqlConnection connection, long low, long high, CancellationToken cancellation)
    {
        if (low == high)
        {
            return;
        }

        var before = await PositionAsync(connection, low - 1, cancellation);
        var until = await PositionAsync(connection, high - 1, cancellation);
        await using var command = new NpgsqlCommand("select position, id, bytes from trace.record where position >= $1 and position <= $2 order by position", connection)
        {
            Parameters = { new() { Value = before }, new() { Value = until } },
        };
        await using var row = await command.ExecuteReaderAsync(cancellation);
        var last = "";
        while (await row.ReadAsync(cancellation))
        {
            // What does not read as a record says no time; nothing is judged on it either.
            if (RecordedAt(row.GetFieldValue<byte[]>(2)) is not { } at)
            {
                continue;
            }

            if (string.CompareOrdinal(at, last) < 0)
            {
                throw new LogContradictionException(string.Create(CultureInfo.InvariantCulture,
                    $"Record {row.GetGuid(1)} at position {row.GetInt64(0)} says that it was recorded at {at}, before the record in front of it ({last}): the service wrote no such record. Nothing was signed."));
            }

            last = at;
        }
    }

    private static string? RecordedAt(byte[] bytes)
    {
        try
        {
            using var record = JsonDocument.Parse(bytes);
            return record.RootElement.ValueKind == JsonValueKind.Object && record.RootElement.TryGetProperty("recordedAt", out var at) && at.ValueKind == JsonValueKind.String ? at.GetString() : null;
        }
        catch (JsonException)
        {
            return null;
        }
    }

    private static async Task<long> PositionAsync(NpgsqlConnection connection, long index, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand("select position from trace.log_leaf where index = $1", connection)
        {
            Parameters = { new() { Value = index } },
        };
        return await command.ExecuteScalarAsync(cancellation) as long? ?? 0;
    }

    private async Task MustBeAsync(CompactRange range, byte[] root, CancellationToken cancellation)
    {
        if (!range.Root().AsSpan().SequenceEqual(root))
        {
            var suspect = await SuspectAsync(cancellation);
            throw new LogContradictionException(string.Create(
                CultureInfo.InvariantCulture,
                $"The first {range.Size} leaves are not those that were signed: signed root {Convert.ToHexStringLower(root)}, root now {Convert.ToHexStringLower(range.Root())}.{suspect}"));
        }
    }

    /// <summary>The first leaf that differs from its tile, which a change of one table alone leaves behind.</summary>
    private async Task<string> SuspectAsync(CancellationToken cancellation)
    {
        await using var command = database.CreateCommand(
            """
            select l.index, l.record_id from trace.log_leaf l
            join trace.log_tile t on t.level = 0 and t.index = l.index / 256
            where l.hash <> substring(t.hashes from (l.index % 256)::int * 32 + 1 for 32)
            order by l.index limit 1
            """);
        await using var row = await command.ExecuteReaderAsync(cancellation);
        return await row.ReadAsync(cancellation)
            ? string.Create(CultureInfo.InvariantCulture, $" Leaf {row.GetInt64(0)} (record {row.GetGuid(1)}) differs from its tile.")
            : "";
    }

    /// <summary>Old leaves, a few tiles each pass in turn, sealed or not: from the leaves up to the signer's own root.</summary>
    private async Task AuditAsync(NpgsqlConnection connection, SignerState own, CancellationToken cancellation)
    {
        var whole = own.Size / TileWriter.Width;
        var tiles = new TileReader(connection);
        for (var i = 0; i < Math.Min(AuditTilesPerPass, whole); i++)
        {
            var tile = _auditTile++ % whole;
            var first = tile * TileWriter.Width;
            var leaves = await TileReader.LeavesAsync(connection, first, TileWriter.Width, cancellation);
            var hash = Merkle.Root(leaves);
            foreach (var range in Merkle.InclusionRanges(first, own.Size).Skip(8))
            {
                var sibling = await tiles.RangeAsync(range, cancellation);
                hash = range.Low > first ? Merkle.NodeHash(hash, sibling) : Merkle.NodeHash(sibling, hash);
            }

            await LeavesMustBeRecordsAsync(connection, first, first + TileWriter.Width, cancellation);
            if (Convert.ToHexStringLower(hash) != own.Root)
            {
                var suspect = await SuspectAsync(cancellation);
                throw new LogContradictionException(string.Create(
                    CultureInfo.InvariantCulture,
                    $"Leaves {first} to {first + TileWriter.Width - 1} do not lead to the signed root of {own.Size} leaves.{suspect}"));
            }
        }
    }

    private static async Task PublishAsync(
        NpgsqlConnection connection, SignerState state, DateTimeOffset sealedAt, CancellationToken cancellation)
    {
        await using var batch = new NpgsqlBatch(connection)
        {
            BatchCommands =
            {
                new("insert into trace.log_origin (ordinal, origin, started_at) select coalesce(max(ordinal), -1) + 1, $1, $2 "
                    + "from trace.log_origin having not coalesce(bool_or(origin = $1), false)")
                {
                    Parameters = { new() { Value = state.Origin }, new() { Value = sealedAt } },
                },
                new("insert into trace.checkpoint (origin, size, root, note, sealed_at) values ($1, $2, $3, $4, $5)")
                {
                    Parameters =
                    {
                        new() { Value = state.Origin },
                        new() { Value = state.Size },
                        new() { Value = Convert.FromHexString(state.Root) },
                        new() { Value = state.Note },
                        new() { Value = sealedAt },
                    },
                },
            },
        };
        await batch.ExecuteNonQueryAsync(cancellation);
    }

    private static async Task<bool> LockAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand("select pg_try_advisory_xact_lock($1)", connection)
        {
            Parameters = { new() { Value = LockKey } },
        };
        return (bool)(await command.ExecuteScalarAsync(cancellation))!;
    }
}
