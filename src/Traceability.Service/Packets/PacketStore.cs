using Npgsql;

namespace Traceability.Service.Packets;

/// <summary>A packet as it was issued.</summary>
public sealed record IssuedPacket(string Id, DateTimeOffset IssuedAt, string IssuedBy, bool Draft, string Contract, IReadOnlyList<string> Units, int OpenItems, string Sha256, int Size);

/// <summary>Issued packets, kept as the ZIP that was handed out, and the manifests that wait for the signer.</summary>
public sealed class PacketStore(NpgsqlDataSource source)
{
    /// <summary>The channel on which manifests are offered to the signer and come back.</summary>
    public const string Channel = "trace_manifest";

    public const string Ddl = """

        create sequence if not exists trace.packet_number;

        create table if not exists trace.packet (
            id text primary key,
            issued_at timestamptz not null,
            issued_by text not null,
            draft boolean not null,
            contract text not null,
            units text[] not null,
            open_items int not null,
            sha256 text not null,
            zip bytea not null
        );

        create table if not exists trace.manifest (
            packet text primary key,
            bytes bytea not null,
            signature bytea null,
            refused text null
        );

        create table if not exists trace.log_key (
            origin text primary key,
            public_key bytea not null check (octet_length(public_key) = 32)
        );
        """;

    private const string Columns = "id, issued_at, issued_by, draft, contract, units, open_items, sha256, octet_length(zip)";

    public async Task<long> NextNumberAsync(CancellationToken cancel)
    {
        await using var command = source.CreateCommand("select nextval('trace.packet_number')");
        return (long)(await command.ExecuteScalarAsync(cancel))!;
    }

    /// <summary>The public key that the log's signer says is its own; null before it ran.</summary>
    public async Task<byte[]?> LogKeyAsync(string origin, CancellationToken cancel)
    {
        await using var command = source.CreateCommand("select public_key from trace.log_key where origin = $1");
        command.Parameters.Add(new() { Value = origin });
        return (byte[]?)await command.ExecuteScalarAsync(cancel);
    }

    public async Task AddAsync(IssuedPacket packet, byte[] zip, CancellationToken cancel)
    {
        await using var command = source.CreateCommand("""
            insert into trace.packet (id, issued_at, issued_by, draft, contract, units, open_items, sha256, zip)
            values ($1, $2, $3, $4, $5, $6, $7, $8, $9)
            """);
        foreach (var value in new object[] { packet.Id, packet.IssuedAt.UtcDateTime, packet.IssuedBy, packet.Draft, packet.Contract, packet.Units.ToArray(), packet.OpenItems, packet.Sha256, zip })
            command.Parameters.Add(new() { Value = value });
        await command.ExecuteNonQueryAsync(cancel);
    }

    public async Task<(IssuedPacket Packet, byte[] Zip)?> FindAsync(string id, CancellationToken cancel)
    {
        await using var command = source.CreateCommand($"select {Columns}, zip from trace.packet where id = $1");
        command.Parameters.Add(new() { Value = id });
        await using var row = await command.ExecuteReaderAsync(cancel);
        return await row.ReadAsync(cancel) ? (Read(row), row.GetFieldValue<byte[]>(9)) : null;
    }

    /// <summary>The newest packets first.</summary>
    public async Task<IReadOnlyList<IssuedPacket>> ListAsync(string? unit, int most, CancellationToken cancel)
    {
        await using var command = source.CreateCommand($"select {Columns} from trace.packet where $1::text is null or $1 = any(units) order by issued_at desc, id desc limit $2");
        command.Parameters.Add(new() { Value = (object?)unit ?? DBNull.Value });
        command.Parameters.Add(new() { Value = most });
        await using var rows = await command.ExecuteReaderAsync(cancel);
        var packets = new List<IssuedPacket>();
        while (await rows.ReadAsync(cancel)) packets.Add(Read(rows));
        return packets;
    }

    private static IssuedPacket Read(NpgsqlDataReader row) => new(
        row.GetString(0), row.GetFieldValue<DateTimeOffset>(1), row.GetString(2), row.GetBoolean(3), row.GetString(4), row.GetFieldValue<string[]>(5), row.GetInt32(6), row.GetString(7), row.GetInt32(8));

    /// <summary>Lays a manifest before the signer.</summary>
    public async Task OfferAsync(string packet, byte[] manifest, CancellationToken cancel)
    {
        await using var command = source.CreateCommand("insert into trace.manifest (packet, bytes) values ($1, $2)");
        command.Parameters.Add(new() { Value = packet });
        command.Parameters.Add(new() { Value = manifest });
        await command.ExecuteNonQueryAsync(cancel);
        await using var notify = source.CreateCommand($"select pg_notify('{Channel}', '')");
        await notify.ExecuteNonQueryAsync(cancel);
    }

    /// <summary>What the signer answered: a signature or why it refused; both null while it has not.</summary>
    public async Task<(byte[]? Signature, string? Refused)> AnswerAsync(string packet, CancellationToken cancel)
    {
        await using var command = source.CreateCommand("select signature, refused from trace.manifest where packet = $1");
        command.Parameters.Add(new() { Value = packet });
        await using var row = await command.ExecuteReaderAsync(cancel);
        return await row.ReadAsync(cancel) ? (row.IsDBNull(0) ? null : row.GetFieldValue<byte[]>(0), row.IsDBNull(1) ? null : row.GetString(1)) : (null, null);
    }

    public async Task<IReadOnlyList<(string Packet, byte[] Manifest)>> WaitingAsync(CancellationToken cancel)
    {
        await using var command = source.CreateCommand("select packet, bytes from trace.manifest where signature is null and refused is null order by packet");
        await using var rows = await command.ExecuteReaderAsync(cancel);
        var waiting = new List<(string, byte[])>();
        while (await rows.ReadAsync(cancel)) waiting.Add((rows.GetString(0), rows.GetFieldValue<byte[]>(1)));
        return waiting;
    }

    public async Task AnswerAsync(string packet, byte[]? signature, string? refused, CancellationToken cancel)
    {
        await using var command = source.CreateCommand("update trace.manifest set signature = $2, refused = $3 where packet = $1");
        command.Parameters.Add(new() { Value = packet });
        command.Parameters.Add(new() { Value = (object?)signature ?? DBNull.Value, NpgsqlDbType = NpgsqlTypes.NpgsqlDbType.Bytea });
        command.Parameters.Add(new() { Value = (object?)refused ?? DBNull.Value, NpgsqlDbType = NpgsqlTypes.NpgsqlDbType.Text });
        await command.ExecuteNonQueryAsync(cancel);
    }

    public async Task SayKeyAsync(string origin, byte[] publicKey, CancellationToken cancel)
    {
        await using var command = source.CreateCommand("insert into trace.log_key (origin, public_key) values ($1, $2) on conflict (origin) do update set public_key = excluded.public_key");
        command.Parameters.Add(new() { Value = origin });
        command.Parameters.Add(new() { Value = publicKey });
        await command.ExecuteNonQueryAsync(cancel);
    }

    public async Task<string?> NoteAsync(string origin, long size, CancellationToken cancel)
    {
        await using var command = source.CreateCommand("select note from trace.checkpoint where origin = $1 and size = $2");
        command.Parameters.Add(new() { Value = origin });
        command.Parameters.Add(new() { Value = size });
        return (string?)await command.ExecuteScalarAsync(cancel);
    }
}
