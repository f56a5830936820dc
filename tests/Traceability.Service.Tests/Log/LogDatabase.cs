using System.Globalization;
using System.Text.Json;
using Microsoft.Extensions.Logging.Abstractions;
using Npgsql;
using Traceability.Service.Log;
using Traceability.TestServers;

namespace Traceability.Service.Tests.Log;

/// <summary>
/// A database of its own on a real PostgreSQL, with the log's tables, and a folder for the signer's files.
/// </summary>
public sealed class LogDatabase : IAsyncLifetime
{
    private readonly string _name = $"log_{Guid.NewGuid():N}";
    private readonly string _folder = Directory.CreateTempSubdirectory("log-signer-").FullName;
    private string _server = "";

    public NpgsqlDataSource Source { get; private set; } = null!;

    public LogSignerOptions Options => new("plant.example/records", Path.Combine(_folder, "key.pem"), Path.Combine(_folder, "signer.json"));

    public LogReader Reader => new(Source);

    /// <summary>A signer as a newly started process would have it.</summary>
    public LogSigner Signer() => new(Source, Options, TimeProvider.System, NullLogger<LogSigner>.Instance);

    public async Task InitializeAsync()
    {
        _server = await Servers.PostgresAsync();
        await OnServerAsync($"create database {_name}");
        Source = NpgsqlDataSource.Create(new NpgsqlConnectionStringBuilder(_server) { Database = _name }.ConnectionString);
        await Service.Operations.Schema.MigrateAsync(Source, new NpgsqlConnectionStringBuilder(_server) { Database = _name }.ConnectionString, null, CancellationToken.None);

        // Of the recorder's table, what the signer reads.
        await RunAsync("drop table trace.record; create table trace.record (position bigint primary key, id uuid not null unique, bytes bytea not null)");
    }

    public async Task DisposeAsync()
    {
        await Source.DisposeAsync();
        await OnServerAsync($"drop database {_name} with (force)");
        Directory.Delete(_folder, recursive: true);
    }

    public async Task RunAsync(string sql)
    {
        await using var command = Source.CreateCommand(sql);
        await command.ExecuteNonQueryAsync();
    }

    public async Task<T> AskAsync<T>(string sql)
    {
        await using var command = Source.CreateCommand(sql);
        return (T)(await command.ExecuteScalarAsync())!;
    }

    public static byte[] RecordBytes(long index) => BitConverter.GetBytes(index);

    /// <summary>Puts a record that says when it was recorded, and its leaf, in the place of the one at an index: whoever can write into the database makes both.</summary>
    public async Task SayAsync(long index, DateTimeOffset recordedAt)
    {
        var bytes = JsonSerializer.SerializeToUtf8Bytes(new { index, recordedAt = recordedAt.ToString("yyyy-MM-dd'T'HH:mm:ss.ffffff'Z'", CultureInfo.InvariantCulture) });
        await using var command = Source.CreateCommand("with said as (update trace.record set bytes = $2 where position = $1 + 1) update trace.log_leaf set hash = $3 where index = $1");
        foreach (var value in new object[] { index, bytes, Merkle.LeafHash(bytes) }) command.Parameters.Add(new() { Value = value });
        await command.ExecuteNonQueryAsync();
    }

    public static byte[] LeafHash(long index) => Merkle.LeafHash(RecordBytes(index));

    public static Guid RecordId(long index) => new(new byte[8].Concat(BitConverter.GetBytes(index)).ToArray(), bigEndian: true);

    /// <summary>Adds records and their leaves after those there are.</summary>
    public async Task AddAsync(int count)
    {
        var next = await AskAsync<long>("select coalesce(max(index) + 1, 0) from trace.log_leaf");
        await using var command = Source.CreateCommand(
            """
            with given as (select * from unnest($1, $2, $3, $4) as x(i, r, h, b)),
            recorded as (insert into trace.record (position, id, bytes) select i + 1, r, b from given)
            insert into trace.log_leaf (index, position, record_id, hash) select i, i + 1, r, h from given
            """);
        var indexes = Enumerable.Range(0, count).Select(i => next + i).ToArray();
        command.Parameters.Add(new() { Value = indexes });
        command.Parameters.Add(new() { Value = indexes.Select(RecordId).ToArray() });
        command.Parameters.Add(new() { Value = indexes.Select(LeafHash).ToArray() });
        command.Parameters.Add(new() { Value = indexes.Select(RecordBytes).ToArray() });
        await command.ExecuteNonQueryAsync();
    }

    private async Task OnServerAsync(string sql)
    {
        await using var connection = new NpgsqlConnection(_server);
        await connection.OpenAsync();
        await using var command = new NpgsqlCommand(sql, connection);
        await command.ExecuteNonQueryAsync();
    }
}
