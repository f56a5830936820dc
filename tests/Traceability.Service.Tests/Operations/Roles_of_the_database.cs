using System.Net;
using System.Net.Http.Json;
using System.Security.Cryptography;
using System.Text.Json;
using Npgsql;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Commands;
using Traceability.Service.Log;
using Traceability.Service.Operations;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.Operations;

/// <summary>The service and its signer on roles of the database that may no more than they need.</summary>
public sealed class Roles_of_the_database : IAsyncLifetime
{
    private readonly string _service = "service_" + Guid.NewGuid().ToString("N"), _signer = "signer_" + Guid.NewGuid().ToString("N"), _password = Convert.ToHexStringLower(RandomNumberGenerator.GetBytes(16));
    private PlantHost _host = null!;
    private NpgsqlDataSource _owner = null!;

    public async Task InitializeAsync()
    {
        // Whoever owns the database makes its tables and the first people.
        _host = await PlantHost.StartAsync(false, ["web"]);
        _owner = NpgsqlDataSource.Create(_host.ConnectionString);
        await OwnerAsync($"create role {_service} login password '{_password}'; create role {_signer} login password '{_password}'");
        await _host.StopLastAsync();
        var (exit, migrated) = await MigrateAsync("--service-role", _service, "--signer-role", _signer);
        Assert.True(exit == ExitCodes.Done, migrated);
    }

    public async Task DisposeAsync()
    {
        await OwnerAsync($"drop owned by {_service}; drop owned by {_signer}");
        await _host.DisposeAsync();
        await OwnerAtServerAsync($"drop role {_service}; drop role {_signer}");
        await _owner.DisposeAsync();
    }

    private async Task OwnerAsync(string sql)
    {
        await using var command = _owner.CreateCommand(sql);
        await command.ExecuteNonQueryAsync();
    }

    private async Task OwnerAtServerAsync(string sql)
    {
        await using var source = NpgsqlDataSource.Create(new NpgsqlConnectionStringBuilder(_host.ConnectionString) { Database = "postgres" }.ConnectionString);
        await using var command = source.CreateCommand(sql);
        await command.ExecuteNonQueryAsync();
    }

    private string As(string role) => new NpgsqlConnectionStringBuilder(_host.ConnectionString) { Username = role, Password = _password }.ConnectionString;

    private string[] Settings => [$"--ConnectionStrings:Postgres={_host.ConnectionString}", $"--Plant:TimeZone={PlantStory.Zone}", $"--Signer:Folder={Path.Combine(_host.Folder, "signer")}"];

    private async Task<(int Exit, string Said)> MigrateAsync(params string[] args)
    {
        using var said = new StringWriter();
        var exit = await CommandLine.RunAsync(["migrate", .. args], new Terminal(TextReader.Null, said, said, Settings));
        return (exit, said.ToString());
    }

    private async Task StartAsync()
    {
        await _host.AddAsync("web,worker", $"--ConnectionStrings:Postgres={As(_service)}", "--Database:Migrate=false", "--Scenario:Clock=true");
        await _host.AddAsync("signer", $"--ConnectionStrings:Postgres={As(_signer)}", "--Database:Migrate=false");
    }

    [Fact]
    public async Task With_them_a_plant_works_from_the_first_fact_to_a_packet_that_is_proved()
    {
        await StartAsync();
        var story = PlantStory.RigidFrame(17, [new Casting(3)], new DateTimeOffset(2026, 3, 2, 7, 0, 0, TimeSpan.FromHours(-5)), confirmed: true);
        await _host.SendAsync(story.Facts);
        await _host.SettleAsync(1);
        using var administrator = await _host.SignInAsync(Plant.Administrator);
        (await administrator.PostAsJsonAsync("/v1/devices/codes", new { roles = new[] { "yard" } })).EnsureSuccessStatusCode();
        (await administrator.PostAsJsonAsync("/v1/people", new { id = "p-120", displayName = "Somebody", roles = new[] { "yard" } })).EnsureSuccessStatusCode();
        using var engineer = await _host.SignInAsync(Plant.QualityEngineer);
        using var answer = await engineer.PostAsJsonAsync("/v1/packets", new { units = new[] { story.Units[0] }, draft = false, pin = _host.Credentials.Person(Plant.QualityEngineer.Id).Pin });
        Assert.True(answer.StatusCode == HttpStatusCode.Created, await answer.Content.ReadAsStringAsync());
        var path = Path.Combine(_host.Folder, "packet.zip");
        await File.WriteAllBytesAsync(path, await engineer.GetByteArrayAsync("/v1/packets/" + (await answer.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("id").GetString()));
        using var said = new StringWriter();
        Assert.True(Verifier.Command.Run([path, "--key", LogKey.LineFile(Path.Combine(_host.Folder, "signer", "log-key.pem"))], said, said) == Verifier.Command.Ok, said.ToString());
        foreach (var page in new[] { "/", "/units", "/waiting", "/integrity", "/units/" + story.Units[0] })
            Assert.Equal(HttpStatusCode.OK, (await engineer.GetAsync(new Uri(page, UriKind.Relative))).StatusCode);
        (await engineer.PostAsync(new Uri("/v1/sign-out", UriKind.Relative), null)).EnsureSuccessStatusCode();

        // The index made anew by its owner is the service's to read and to fill as before.
        using var rebuilt = new StringWriter();
        Assert.Equal(ExitCodes.Done, await CommandLine.RunAsync(["rebuild", "links"], new Terminal(TextReader.Null, rebuilt, rebuilt, Settings)));
        var next = PlantStory.RigidFrame(18, 1, new DateTimeOffset(2026, 3, 2, 7, 0, 0, TimeSpan.FromHours(-5)), key: "Z-");
        await _host.SendAsync(next.Facts.Take(20));
        Assert.True(await _host.ScalarAsync("select count(*) from trace.record where source not like '/service/%'") >= story.Facts.Count + 15);
        Assert.Equal(0, await _host.ScalarAsync("select count(*) from trace.parked"));
    }

    [Theory]
    [InlineData("update trace.record set bytes = bytes")]
    [InlineData("delete from trace.record")]
    [InlineData("update marten.mt_events set data = data")]
    [InlineData("delete from marten.mt_events")]
    [InlineData("update trace.log_leaf set hash = hash")]
    [InlineData("delete from trace.about")]
    [InlineData("delete from trace.link")]
    [InlineData("insert into trace.checkpoint (origin, size, root, note, sealed_at) values ('x', 1, '', '', now())")]
    [InlineData("update trace.checkpoint set note = note")]
    [InlineData("update trace.manifest set signature = null")]
    [InlineData("insert into trace.log_key (origin, public_key) values ('x', '')")]
    [InlineData("delete from trace.judgement")]
    [InlineData("update trace.migration set scriptname = scriptname")]
    [InlineData("drop table trace.stale_unit")]
    [InlineData("truncate trace.stale_unit")]
    [InlineData("create table trace.mine (x int)")]
    [InlineData("create role mine")]
    public Task The_service_may_not(string sql) => RefusedAsync(_service, sql);

    [Theory]
    [InlineData("insert into trace.record (position) values (1)")]
    [InlineData("update trace.record set bytes = bytes")]
    [InlineData("insert into marten.mt_events (seq_id) values (1)")]
    [InlineData("insert into trace.log_leaf (index, position, record_id, hash) values (0, 1, gen_random_uuid(), '')")]
    [InlineData("insert into trace.manifest (packet, bytes) values ('x', '')")]
    [InlineData("select * from marten.mt_doc_person")]
    [InlineData("select * from trace.packet for update")]
    [InlineData("delete from trace.checkpoint")]
    [InlineData("create table trace.mine (x int)")]
    public Task The_signer_may_not(string sql) => RefusedAsync(_signer, sql);

    private async Task RefusedAsync(string role, string sql)
    {
        await using var source = NpgsqlDataSource.Create(As(role));
        await using var command = source.CreateCommand(sql);
        var refused = await Assert.ThrowsAsync<PostgresException>(() => command.ExecuteNonQueryAsync());
        Assert.True(refused.SqlState == PostgresErrorCodes.InsufficientPrivilege, refused.MessageText);
    }

    [Fact]
    public async Task No_table_is_left_undecided_and_a_role_that_is_not_there_is_named()
    {
        var tables = new List<string>();
        await using (var command = _owner.CreateCommand("select schemaname || '.' || tablename from pg_tables where schemaname in ('trace', 'marten')"))
        await using (var row = await command.ExecuteReaderAsync())
        {
            while (await row.ReadAsync()) tables.Add(row.GetString(0));
        }

        Assert.Equal(tables.Order(StringComparer.Ordinal), DatabaseRoles.Service.Keys.Order(StringComparer.Ordinal));
        Assert.Empty(DatabaseRoles.Signer.Keys.Except(tables));
        var (owner, why) = await MigrateAsync("--service-role", new NpgsqlConnectionStringBuilder(_host.ConnectionString).Username!);
        Assert.NotEqual(ExitCodes.Done, owner);
        Assert.Contains("cannot be held to less", why, StringComparison.Ordinal);
        var (exit, said) = await MigrateAsync("--service-role", "nobody_here");
        Assert.NotEqual(ExitCodes.Done, exit);
        Assert.Contains("no role nobody_here", said, StringComparison.Ordinal);
    }
}
