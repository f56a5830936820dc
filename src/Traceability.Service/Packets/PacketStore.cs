using System.Text.Json;
using Npgsql;
using Traceability.Core.Events;

namespace Traceability.Service.Packets;

/// <summary>A packet as it was issued.</summary>
/// <param name="Sha256">Of the ZIP; empty while its seal is still to come.</param>
/// <param name="Signed">Whether it has its seal: the record of its issue is in the sealed log and the signer signed its manifest. A draft never has.</param>
/// <param name="SupplementTo">The packet it supplements; null for a packet of its own.</param>
/// <param name="Pending">Results that were still to come and with which the contract allows shipment.</param>
/// <param name="Answers">Of the packet's pending items those that a supplement answers.</param>
public sealed record IssuedPacket(
    string Id, DateTimeOffset IssuedAt, string IssuedBy, bool Draft, string Contract, IReadOnlyList<string> Units, int OpenItems, string Sha256, int Size, bool Signed,
    string? SupplementTo = null, int? SupplementNumber = null, IReadOnlyList<PendingItem>? Pending = null, IReadOnlyList<PendingItem>? Answers = null);

/// <summary>A load certificate as it was issued.</summary>
/// <param name="Number">Number among the delivery's certificates, from 1; the newest stands.</param>
/// <param name="Record">Id of the record that says so.</param>
/// <param name="Exceptions">What it lists as not certified or not simply met.</param>
public sealed record IssuedCertificate(string Delivery, int Number, DateTimeOffset IssuedAt, string IssuedBy, string Contract, IReadOnlyList<string> Units, int Exceptions, string Sha256, Guid Record);

/// <summary>Issued packets, kept as the ZIP that was handed out, and the manifests that wait for the signer.</summary>
public sealed class PacketStore(NpgsqlDataSource source)
{
    /// <summary>The channel on which manifests are offered to the signer and come back.</summary>
    public const string Channel = "trace_manifest";

    private const string Columns = "id, issued_at, issued_by, draft, contract, units, open_items, sha256, octet_length(zip), supplement_to, supplement_number, pending, answers, signed";

    /// <summary>The number the next packet will have, if no other takes it before.</summary>
    public async Task<long> NextNumberAsync(CancellationToken cancel)
    {
        await using var command = source.CreateCommand("select case when is_called then last_value + 1 else last_value end from trace.packet_number");
        return (long)(await command.ExecuteScalarAsync(cancel))!;
    }

    /// <summary>Takes a number in the transaction that records the packet, so that what is refused leaves no gap.</summary>
    public static async Task<long> TakeNumberAsync(NpgsqlConnection connection, CancellationToken cancel)
    {
        await using var command = new NpgsqlCommand("select nextval('trace.packet_number')", connection);
        return (long)(await command.ExecuteScalarAsync(cancel))!;
    }

    /// <summary>The bytes of a record; null when there is none.</summary>
    public async Task<byte[]?> RecordAsync(Guid id, CancellationToken cancel)
    {
        await using var command = source.CreateCommand("select bytes from trace.record where id = $1");
        command.Parameters.Add(new() { Value = id });
        return (byte[]?)await command.ExecuteScalarAsync(cancel);
    }

    /// <summary>Puts the whole ZIP in the place of the one without a seal.</summary>
    public async Task SealAsync(string id, byte[] zip, string sha256, CancellationToken cancel)
    {
        await using var command = source.CreateCommand("update trace.packet set zip = $2, sha256 = $3, signed = true where id = $1 and not signed and not draft");
        command.Parameters.Add(new() { Value = id });
        command.Parameters.Add(new() { Value = zip });
        command.Parameters.Add(new() { Value = sha256 });
        await command.ExecuteNonQueryAsync(cancel);
    }

    /// <summary>The public key that the log's signer says is its own; null before it ran.</summary>
    public async Task<byte[]?> LogKeyAsync(string origin, CancellationToken cancel)
    {
        await using var command = source.CreateCommand("select public_key from trace.log_key where origin = $1");
        command.Parameters.Add(new() { Value = origin });
        return (byte[]?)await command.ExecuteScalarAsync(cancel);
    }

    /// <summary>Keeps a draft, which nothing records.</summary>
    public async Task AddAsync(IssuedPacket draft, byte[] zip, CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        await AddAsync(connection, draft, zip, cancel);
    }

    /// <summary>Keeps a packet in the transaction that records it.</summary>
    public static async Task AddAsync(NpgsqlConnection connection, IssuedPacket packet, byte[] zip, CancellationToken cancel)
    {
        await using var command = new NpgsqlCommand("""
            insert into trace.packet (id, issued_at, issued_by, draft, contract, units, open_items, sha256, zip, supplement_to, supplement_number, pending, answers, signed)
            values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12::jsonb, $13::jsonb, $14)
            """, connection);
        foreach (var value in new[]
        {
            packet.Id, packet.IssuedAt.UtcDateTime, packet.IssuedBy, packet.Draft, packet.Contract, packet.Units.ToArray(), packet.OpenItems, packet.Sha256, zip,
            packet.SupplementTo, packet.SupplementNumber, JsonSerializer.Serialize(packet.Pending ?? [], FactJson.Options), packet.Answers is { } answers ? JsonSerializer.Serialize(answers, FactJson.Options) : (object?)null, packet.Signed,
        })
            command.Parameters.Add(new() { Value = value ?? DBNull.Value });
        await command.ExecuteNonQueryAsync(cancel);
    }

    /// <summary>The ZIP of a packet and those of its supplements, in order.</summary>
    public async Task<IReadOnlyList<byte[]>> WithSupplementsAsync(string id, CancellationToken cancel)
    {
        await using var command = source.CreateCommand("select zip from trace.packet where id = $1 or supplement_to = $1 order by supplement_number nulls first");
        command.Parameters.Add(new() { Value = id });
        await using var rows = await command.ExecuteReaderAsync(cancel);
        var zips = new List<byte[]>();
        while (await rows.ReadAsync(cancel)) zips.Add(rows.GetFieldValue<byte[]>(0));
        return zips;
    }

    /// <summary>How many supplements a packet has, in the transaction that records the next.</summary>
    public static async Task<int> SupplementsAsync(NpgsqlConnection connection, string packet, CancellationToken cancel)
    {
        await using var command = new NpgsqlCommand("select count(*)::int from trace.packet where supplement_to = $1", connection) { Parameters = { new() { Value = packet } } };
        return (int)(await command.ExecuteScalarAsync(cancel))!;
    }

    /// <summary>How many certificates a delivery has, in the transaction that records the next.</summary>
    public static async Task<int> CertificatesAsync(NpgsqlConnection connection, string delivery, CancellationToken cancel)
    {
        await using var command = new NpgsqlCommand("select count(*)::int from trace.load_certificate where delivery = $1", connection) { Parameters = { new() { Value = delivery } } };
        return (int)(await command.ExecuteScalarAsync(cancel))!;
    }

    /// <summary>How many certificates a delivery has.</summary>
    public async Task<int> CertificateCountAsync(string delivery, CancellationToken cancel)
    {
        await using var connection = await source.OpenConnectionAsync(cancel);
        return await CertificatesAsync(connection, delivery, cancel);
    }

    /// <summary>Keeps a load certificate in the transaction that records it.</summary>
    public static async Task AddAsync(NpgsqlConnection connection, IssuedCertificate certificate, byte[] pdf, CancellationToken cancel)
    {
        await using var command = new NpgsqlCommand($"insert into trace.load_certificate ({CertificateColumns}, pdf) values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)", connection);
        foreach (var value in new object[]
        {
            certificate.Delivery, certificate.Number, certificate.IssuedAt.UtcDateTime, certificate.IssuedBy, certificate.Contract, certificate.Units.ToArray(),
            certificate.Exceptions, certificate.Sha256, certificate.Record, pdf,
        })
            command.Parameters.Add(new() { Value = value });
        await command.ExecuteNonQueryAsync(cancel);
    }

    private const string CertificateColumns = "delivery, number, issued_at, issued_by, contract, units, exceptions, sha256, record";

    /// <summary>The certificates of a delivery, the newest first, with their PDFs.</summary>
    public async Task<IReadOnlyList<(IssuedCertificate Certificate, byte[] Pdf)>> CertificatesAsync(string delivery, CancellationToken cancel)
    {
        await using var command = source.CreateCommand($"select {CertificateColumns}, pdf from trace.load_certificate where delivery = $1 order by number desc");
        command.Parameters.Add(new() { Value = delivery });
        await using var rows = await command.ExecuteReaderAsync(cancel);
        var found = new List<(IssuedCertificate, byte[])>();
        while (await rows.ReadAsync(cancel))
        {
            found.Add((new(rows.GetString(0), rows.GetInt32(1), rows.GetFieldValue<DateTimeOffset>(2), rows.GetString(3), rows.GetString(4), rows.GetFieldValue<string[]>(5),
                rows.GetInt32(6), rows.GetString(7), rows.GetGuid(8)), rows.GetFieldValue<byte[]>(9)));
        }

        return found;
    }

    public async Task<(IssuedPacket Packet, byte[] Zip)?> FindAsync(string id, CancellationToken cancel)
    {
        await using var command = source.CreateCommand($"select {Columns}, zip from trace.packet where id = $1");
        command.Parameters.Add(new() { Value = id });
        await using var row = await command.ExecuteReaderAsync(cancel);
        return await row.ReadAsync(cancel) ? (Read(row), row.GetFieldValue<byte[]>(14)) : null;
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
        row.GetString(0), row.GetFieldValue<DateTimeOffset>(1), row.GetString(2), row.GetBoolean(3), row.GetString(4), row.GetFieldValue<string[]>(5), row.GetInt32(6), row.GetString(7), row.GetInt32(8), row.GetBoolean(13),
        row.IsDBNull(9) ? null : row.GetString(9), row.IsDBNull(10) ? null : row.GetInt32(10), Items(row, 11), row.IsDBNull(12) ? null : Items(row, 12));

    private static IReadOnlyList<PendingItem> Items(NpgsqlDataReader row, int column) => JsonSerializer.Deserialize<IReadOnlyList<PendingItem>>(row.GetString(column), FactJson.Options)!;

    /// <summary>Lays a manifest before the signer, in the transaction that records its issue.</summary>
    /// <param name="record">The record of its issue. The signer signs by that, and takes nothing else on trust.</param>
    public static async Task OfferAsync(NpgsqlConnection connection, string packet, byte[] manifest, Guid record, CancellationToken cancel)
    {
        await using var command = new NpgsqlCommand($"with offered as (insert into trace.manifest (packet, bytes, record) values ($1, $2, $3)) select pg_notify('{Channel}', '')", connection)
        { Parameters = { new() { Value = packet }, new() { Value = manifest }, new() { Value = record } } };
        await command.ExecuteNonQueryAsync(cancel);
    }

    /// <summary>What the signer answered: a signature or why it refused; both null while it has not. And the record of the issue.</summary>
    public async Task<(byte[]? Signature, string? Refused, Guid? Record, DateTimeOffset? At)> AnswerAsync(string packet, CancellationToken cancel)
    {
        await using var command = source.CreateCommand("select signature, refused, record, answered_at from trace.manifest where packet = $1");
        command.Parameters.Add(new() { Value = packet });
        await using var row = await command.ExecuteReaderAsync(cancel);
        return await row.ReadAsync(cancel)
            ? (row.IsDBNull(0) ? null : row.GetFieldValue<byte[]>(0), row.IsDBNull(1) ? null : row.GetString(1), row.IsDBNull(2) ? null : row.GetGuid(2), row.IsDBNull(3) ? null : row.GetFieldValue<DateTimeOffset>(3))
            : (null, null, null, null);
    }

    /// <summary>The manifests without an answer, a few at a time: whoever fills the table must not fill the signer.</summary>
    public async Task<IReadOnlyList<(string Packet, byte[] Manifest, Guid? Record)>> WaitingAsync(CancellationToken cancel)
    {
        await using var command = source.CreateCommand("select packet, case when octet_length(bytes) <= 8388608 then bytes else '' end, record from trace.manifest where signature is null and refused is null order by random() limit 20");
        await using var rows = await command.ExecuteReaderAsync(cancel);
        var waiting = new List<(string, byte[], Guid?)>();
        while (await rows.ReadAsync(cancel)) waiting.Add((rows.GetString(0), rows.GetFieldValue<byte[]>(1), rows.IsDBNull(2) ? null : rows.GetGuid(2)));
        return waiting;
    }

    /// <summary>The manifests that the signer refused since a moment, the newest first.</summary>
    public async Task<IReadOnlyList<(string Packet, string Why)>> RefusedAsync(DateTimeOffset since, CancellationToken cancel)
    {
        await using var command = source.CreateCommand("select packet, refused from trace.manifest where refused is not null and answered_at >= $1 order by answered_at desc limit 20");
        command.Parameters.Add(new() { Value = since.UtcDateTime });
        await using var rows = await command.ExecuteReaderAsync(cancel);
        var refused = new List<(string, string)>();
        while (await rows.ReadAsync(cancel)) refused.Add((rows.GetString(0), rows.GetString(1)));
        return refused;
    }

    public async Task AnswerAsync(string packet, byte[]? signature, string? refused, DateTimeOffset at, CancellationToken cancel)
    {
        await using var command = source.CreateCommand("update trace.manifest set signature = $2, refused = $3, answered_at = $4 where packet = $1");
        command.Parameters.Add(new() { Value = packet });
        command.Parameters.Add(new() { Value = (object?)signature ?? DBNull.Value, NpgsqlDbType = NpgsqlTypes.NpgsqlDbType.Bytea });
        command.Parameters.Add(new() { Value = (object?)refused ?? DBNull.Value, NpgsqlDbType = NpgsqlTypes.NpgsqlDbType.Text });
        command.Parameters.Add(new() { Value = at.UtcDateTime });
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
