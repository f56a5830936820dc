using System.Net;
using System.Net.Http.Json;
using System.Text;
using System.Text.Json;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Commands;
using Traceability.Service.Operations;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.People;

/// <summary>A plant whose administrator is lost gets one back on the machine, and everybody can see that it did.</summary>
public sealed class Recovering_an_administrator
{
    private static async Task<(int Exit, string Out, string Error)> RunAsync(PlantHost host, params string[] args)
    {
        using var output = new StringWriter();
        using var error = new StringWriter();
        var exit = await CommandLine.RunAsync(args, new Terminal(TextReader.Null, output, error,
            [$"--ConnectionStrings:Postgres={host.ConnectionString}", $"--Signer:Folder={Path.Combine(host.Folder, "signer")}", "--Signer:Origin=test.example/log", $"--Plant:TimeZone={PlantStory.Zone}"]));
        return (exit, output.ToString(), error.ToString());
    }

    private static async Task<bool> SignsInAsync(PlantHost host, string person, string password)
    {
        using var http = new HttpClient { BaseAddress = host.Address };
        using var answer = await http.PostAsJsonAsync("/v1/sign-in", new { person, password });
        return answer.IsSuccessStatusCode;
    }

    private static async Task<string?> ReadinessAsync(PlantHost host)
    {
        using var http = new HttpClient { BaseAddress = host.Address };
        using var ready = JsonDocument.Parse(await http.GetStringAsync(new Uri("/health/ready", UriKind.Relative)));
        return ready.RootElement.GetProperty("checks").GetProperty("recoveries").GetProperty("status").GetString();
    }

    [Fact]
    public async Task A_lost_administrator_gets_a_new_first_password_and_the_recovery_stands_in_the_log_the_review_and_readiness()
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        var administrator = Plant.Administrator.Id;
        var former = host.Credentials.Person(administrator).Password;
        Assert.True(await SignsInAsync(host, administrator, former));
        Assert.Equal("Healthy", await ReadinessAsync(host));

        var recovered = await RunAsync(host, "people", "recover", administrator, "--reason", "forgot the password", "--yes", "--json");
        Assert.True(recovered.Exit == ExitCodes.Done, recovered.Error);
        var password = JsonDocument.Parse(recovered.Out).RootElement.GetProperty("password").GetString()!;
        await PlantHost.EventuallyAsync(async () => await SignsInAsync(host, administrator, password), "the new password signs in");
        Assert.False(await SignsInAsync(host, administrator, former));

        await using var record = host.Database.CreateCommand("select bytes from trace.record where type = 'administrator.recovered.v1' and person is null");
        var written = Encoding.UTF8.GetString((byte[])(await record.ExecuteScalarAsync())!);
        Assert.Contains("forgot the password", written, StringComparison.Ordinal);
        Assert.DoesNotContain(password, written, StringComparison.Ordinal);
        await PlantHost.EventuallyAsync(async () => await ReadinessAsync(host) == "Degraded", "readiness says so");
        using var engineer = await host.SignInAsync(Plant.QualityEngineer);
        Assert.Contains($"recovered the administrator {administrator} on the machine", WebUtility.HtmlDecode(await engineer.GetStringAsync(new Uri("/integrity", UriKind.Relative))), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Where_nobody_is_left_an_administrator_is_brought_in_under_a_new_id()
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        var recovered = await RunAsync(host, "people", "recover", "p-990", "--name", "Quiet Heron", "--reason", "nobody is left", "--yes", "--json");
        Assert.True(recovered.Exit == ExitCodes.Done, recovered.Error);
        var password = JsonDocument.Parse(recovered.Out).RootElement.GetProperty("password").GetString()!;
        await PlantHost.EventuallyAsync(async () => await SignsInAsync(host, "p-990", password), "the new administrator signs in");
        await using var record = host.Database.CreateCommand("select bytes from trace.record where type = 'administrator.recovered.v1'");
        var written = Encoding.UTF8.GetString((byte[])(await record.ExecuteScalarAsync())!);
        Assert.Contains("\"broughtIn\":true", written, StringComparison.Ordinal);
        Assert.DoesNotContain("Heron", written, StringComparison.Ordinal);
    }

    [Fact]
    public async Task What_is_asked_without_certainty_for_another_role_or_without_a_reason_changes_nothing()
    {
        await using var host = await PlantHost.StartAsync(false, ["web"]);
        var administrator = Plant.Administrator.Id;
        foreach (var (args, exit) in new[]
        {
            (new[] { administrator, "--reason", "lost" }, ExitCodes.Called), ([administrator, "--yes"], ExitCodes.Called), ([administrator, "--reason", " ", "--yes"], ExitCodes.Called),
            ([Plant.QualityEngineer.Id, "--reason", "lost", "--yes"], ExitCodes.Wrong), (["p-990", "--reason", "lost", "--yes"], ExitCodes.Wrong),
        })
        {
            var said = await RunAsync(host, ["people", "recover", .. args]);
            Assert.True(exit == said.Exit, $"{string.Join(' ', args)}: {said.Exit} {said.Error}");
            Assert.NotEmpty(said.Error);
        }

        Assert.True(await SignsInAsync(host, administrator, host.Credentials.Person(administrator).Password));
        Assert.Equal(0, await host.ScalarAsync("select count(*) from trace.record"));
    }
}
