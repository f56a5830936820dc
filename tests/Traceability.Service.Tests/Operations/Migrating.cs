using System.IO.Compression;
using System.Security.Cryptography;
using System.Text;
using Marten;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Commands;
using Traceability.Service.Linking;
using Traceability.Service.Log;
using Traceability.Service.Operations;
using Traceability.Service.Recording;
using Traceability.Service.Tests.Hosting;
using Traceability.TestServers;

namespace Traceability.Service.Tests.Operations;

/// <summary>
/// A database is brought to what a version needs by numbered scripts. The kept one was made by the version before migrations were numbered (commit 11ec0ed): a story of two invented
/// units with everything that goes wrong in it, 67 facts sent, of which 66 were recorded and one was a second content under a known id.
/// </summary>
public sealed class Migrating : IAsyncLifetime
{
    private const int Records = 66;

    private readonly string _name = "m_" + Guid.NewGuid().ToString("N");
    private readonly string _folder = Directory.CreateTempSubdirectory("trace-migrating-").FullName;
    private string _connection = "", _server = "";

    public async Task InitializeAsync()
    {
        _server = await Servers.PostgresAsync();
        _connection = new NpgsqlConnectionStringBuilder(_server) { Database = _name }.ConnectionString;
        await AdminAsync($"create database {_name}");
    }

    public async Task DisposeAsync()
    {
        NpgsqlConnection.ClearAllPools();
        await AdminAsync($"drop database {_name} with (force)");
        Directory.Delete(_folder, recursive: true);
    }

    [Fact]
    public async Task A_database_made_before_migrations_had_numbers_is_opened_replayed_and_verified_unchanged()
    {
        await LoadAsync();
        await using var source = NpgsqlDataSource.Create(_connection + ";Options=-c search_path=public");
        const string everything = "select encode(sha256(string_agg(position || id::text || content_hash || encode(leaf_hash, 'hex') || encode(bytes, 'hex'), '' order by position)::bytea), 'hex') from trace.record";
        var before = await AskAsync<string>(source, everything);

        await using var app = await StartAsync();
        // Every record is byte for byte what it was, and its leaf is its hash, taken by the book (RFC 6962, 2.1).
        Assert.Equal(before, await AskAsync<string>(source, everything));
        await using (var command = source.CreateCommand("select r.bytes, l.hash from trace.record r join trace.log_leaf l on l.record_id = r.id order by l.index"))
        await using (var row = await command.ExecuteReaderAsync())
        {
            var leaves = 0;
            while (await row.ReadAsync())
            {
                Assert.Equal(SHA256.HashData([0, .. row.GetFieldValue<byte[]>(0)]), row.GetFieldValue<byte[]>(1));
                leaves++;
            }

            Assert.Equal(Records, leaves);
        }

        // The checkpoint that the version before signed still follows from the leaves.
        var reader = app.Services.GetRequiredService<LogReader>();
        var latest = await reader.LatestAsync(CancellationToken.None);
        Assert.Equal(("plant.example/before", Records), (latest!.Origin, (int)latest.Size));
        Assert.Equal(latest.Root, await reader.RootAsync(latest.Size, CancellationToken.None));

        // A unit is replayed as known then and judged now, and new facts go on behind the old ones.
        var dossiers = app.Services.GetRequiredService<DossierStore>();
        var whole = await dossiers.LoadAsync(Subject.Unit("RF-0001"), null, CancellationToken.None);
        var then = await dossiers.LoadAsync(Subject.Unit("RF-0001"), 50, CancellationToken.None);
        Assert.InRange(then.Records.Count, 5, whole.Records.Count - 5);
        Assert.Contains(Core.Judging.Judge.Dossier(whole, new DateTimeOffset(2026, 12, 1, 0, 0, 0, TimeSpan.Zero)).Findings, f => f.Verdict == Core.Judging.Verdict.Met);
        var canonical = CanonicalJson.Canonicalize("""{"specversion":"1.0","id":"after-1","source":"/x","type":"form.oiled.v1","time":"2026-11-26T09:30:00-05:00","data":{"form":"F","unit":"RF-0002","releaseAgent":"A"}}"""u8);
        var outcome = (await app.Services.GetRequiredService<Recorder>().RecordAsync([new Received(canonical, "form-1", "intake", DateTimeOffset.UnixEpoch)], CancellationToken.None))[0];
        Assert.Equal((EntryStatus.Recorded, Records + 1L), (outcome.Status, outcome.Position));
        await PlantHost.EventuallyAsync(async () => await AskAsync<long>(source, $"select count(*) from marten.mt_doc_unitrow where id = 'RF-0002' and (data->>'position')::bigint = {Records + 1}") == 1, "the unit is judged anew");
    }

    [Fact]
    public async Task What_migrations_make_is_what_the_program_uses_and_a_second_run_changes_nothing()
    {
        await using (var app = await StartAsync())
        {
            await app.Services.GetRequiredService<IDocumentStore>().Storage.Database.AssertDatabaseMatchesConfigurationAsync();
        }

        await using var source = NpgsqlDataSource.Create(_connection);
        Assert.Empty(await Schema.OutstandingAsync(source, CancellationToken.None));
        Assert.Empty(await Schema.MigrateAsync(source, _connection, null, CancellationToken.None));
        Assert.Equal(Schema.Names.Count, (int)await AskAsync<long>(source, "select count(*) from trace.migration"));
    }

    [Fact]
    public async Task Several_that_start_at_once_migrate_once()
    {
        await using var source = NpgsqlDataSource.Create(_connection);
        var ran = await Task.WhenAll(Enumerable.Range(0, 4).Select(_ => Schema.MigrateAsync(source, _connection, null, CancellationToken.None)));
        Assert.Equal(Schema.Names.Count, ran.Sum(r => r.Count));
    }

    [Fact]
    public async Task Where_the_service_may_not_migrate_it_says_which_verb_does_and_a_newer_database_stops_an_older_program()
    {
        var refused = await Assert.ThrowsAsync<SettingException>(() => StartAsync("--Database:Migrate=false"));
        Assert.Contains("lacks 0001-tables, 0002-records-of-a-device, 0003-passkeys, 0004-device-signatures, 0005-sessions. Run ops/plant migrate", refused.Message, StringComparison.Ordinal);

        Assert.Contains("Would run: 0001-tables, 0002-", await PlantAsync("migrate", "--dry-run"), StringComparison.Ordinal);
        Assert.Contains("Ran: 0001-tables, 0002-", await PlantAsync("migrate"), StringComparison.Ordinal);
        Assert.Contains("has every migration", await PlantAsync("migrate"), StringComparison.Ordinal);
        await (await StartAsync("--Database:Migrate=false")).DisposeAsync();

        await using var source = NpgsqlDataSource.Create(_connection);
        await using (var newer = source.CreateCommand("insert into trace.migration (scriptname, applied) values ('Traceability.Service.Migrations.9999-later.sql', now())")) await newer.ExecuteNonQueryAsync();
        Assert.Contains("migrated by a newer version of this program (9999-later)", (await Assert.ThrowsAsync<SettingException>(() => StartAsync())).Message, StringComparison.Ordinal);
    }

    private async Task<string> PlantAsync(params string[] args)
    {
        using var said = new StringWriter();
        Assert.Equal(ExitCodes.Done, await CommandLine.RunAsync(args, new Terminal(TextReader.Null, said, said, Settings)));
        return said.ToString();
    }

    private string[] Settings => [$"--ConnectionStrings:Postgres={_connection}", $"--Plant:TimeZone={PlantStory.Zone}", $"--Signer:Folder={Path.Combine(_folder, "signer")}", $"--Secrets:KeyFile={Path.Combine(_folder, "key")}"];

    private async Task<Microsoft.AspNetCore.Builder.WebApplication> StartAsync(params string[] more)
    {
        var app = Service.Operations.Host.Build(["--urls=http://127.0.0.1:0", "--Roles=worker", "--Bus=inprocess", .. Settings, .. more]);
        try
        {
            await Service.Operations.Host.PrepareAsync(app);
            await app.StartAsync();
            return app;
        }
        catch
        {
            await app.DisposeAsync();
            throw;
        }
    }

    private async Task LoadAsync()
    {
        await using var packed = new GZipStream(typeof(Migrating).Assembly.GetManifestResourceStream("before-numbered-migrations.sql.gz")!, CompressionMode.Decompress);
        using var text = new StreamReader(packed, Encoding.UTF8);
        await using var connection = new NpgsqlConnection(_connection + ";Pooling=false");
        await connection.OpenAsync();
        await using var command = new NpgsqlCommand(await text.ReadToEndAsync(), connection);
        await command.ExecuteNonQueryAsync();
    }

    private static async Task<T> AskAsync<T>(NpgsqlDataSource source, string sql)
    {
        await using var command = source.CreateCommand(sql);
        return (T)(await command.ExecuteScalarAsync())!;
    }

    private async Task AdminAsync(string sql)
    {
        await using var connection = new NpgsqlConnection(_server);
        await connection.OpenAsync();
        await using var command = new NpgsqlCommand(sql, connection);
        await command.ExecuteNonQueryAsync();
    }
}
