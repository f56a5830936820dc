using System.Net;
using System.Net.Http.Json;
using System.Net.Sockets;
using System.Text.Json;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Tests.Hosting;
using Traceability.Verifier;
using Traceability.Verifier.Witness;

namespace Traceability.Service.Tests.Packets;

/// <summary>The service shows its log to a witness, and what it issues carries the witness's signature.</summary>
public sealed class Witnessed_packet : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("witnessed-packet-").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    private string Dir => Path.Combine(_folder, "witness");

    private static (int Exit, string Said) Say(params string[] words)
    {
        using var said = new StringWriter();
        return (WitnessCommand.Run(words, said, said, TimeProvider.System, CancellationToken.None), said.ToString());
    }

    private static int FreePort()
    {
        using var free = new TcpListener(IPAddress.Loopback, 0);
        free.Start();
        return ((IPEndPoint)free.LocalEndpoint).Port;
    }

    [Fact]
    public async Task A_packet_carries_the_cosignature_of_the_witness_and_one_issued_while_it_is_away_says_that_it_has_none()
    {
        var key = Say("new", Dir, "--name", "agency.example/witness").Said.Trim();
        var url = $"http://127.0.0.1:{FreePort()}/";
        await using var host = await PlantHost.StartAsync("--Witnesses:0:Key=" + key, "--Witnesses:0:Url=" + url);
        var story = PlantStory.RigidFrame(17, [new Casting(3), new Casting(3)], new DateTimeOffset(2026, 3, 2, 7, 0, 0, TimeSpan.FromHours(-5)), confirmed: true);
        await host.SendAsync(story.Facts);
        using var engineer = await host.SignInAsync(Plant.QualityEngineer);
        using var anybody = new HttpClient { BaseAddress = host.Address };
        var plantKey = File.ReadAllText(Path.Combine(host.Folder, "signer", "log-key.pub.txt")).Trim();

        // Away: readiness names it, and the packet goes out without it.
        var ready = await anybody.GetStringAsync(new Uri("/health/ready", UriKind.Relative));
        Assert.Contains("agency.example/witness could not be asked", ready, StringComparison.Ordinal);
        var without = await IssueAsync(host, engineer, story.Units[0]);
        Assert.Equal(Command.Ok, Verify(without, "--key", plantKey).Exit);
        var (exit, said) = Verify(without, "--key", plantKey, "--witness", key);
        Assert.True(exit == Command.NotProved, said);

        Assert.Equal(0, Say("watch", Dir, plantKey).Exit);
        using var stop = new CancellationTokenSource();
        var serving = Task.Run(() => WitnessCommand.Run(["serve", Dir, "--listen", url], TextWriter.Null, TextWriter.Null, TimeProvider.System, stop.Token));
        await PlantHost.EventuallyAsync(async () => !(await anybody.GetStringAsync(new Uri("/health/ready", UriKind.Relative))).Contains("could not be asked", StringComparison.Ordinal), "the witness was asked");

        var seen = await IssueAsync(host, engineer, story.Units[0]);
        (exit, said) = Verify(seen, "--key", plantKey, "--witness", key);
        Assert.True(exit == Command.Ok, said);
        Assert.Contains("cosigned by witness agency.example/witness", said, StringComparison.Ordinal);

        await stop.CancelAsync();
        await serving;
    }

    private async Task<string> IssueAsync(PlantHost host, HttpClient engineer, string unit)
    {
        using var answer = await engineer.PostAsJsonAsync("/v1/packets", new { units = new[] { unit }, pin = host.Credentials.Person(Plant.QualityEngineer.Id).Pin });
        var issued = await answer.Content.ReadFromJsonAsync<JsonElement>();
        Assert.True(answer.IsSuccessStatusCode, issued.ToString());
        var path = Path.Combine(_folder, issued.GetProperty("id").GetString() + ".zip");
        await File.WriteAllBytesAsync(path, await engineer.GetByteArrayAsync(new Uri($"/v1/packets/{issued.GetProperty("id").GetString()}", UriKind.Relative)));
        return path;
    }

    private static (int Exit, string Said) Verify(params string[] args)
    {
        using var said = new StringWriter();
        return (Command.Run(args, said, said), said.ToString());
    }
}
