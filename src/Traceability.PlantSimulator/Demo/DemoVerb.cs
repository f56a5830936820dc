using System.Diagnostics;
using System.Globalization;
using System.IO.Compression;
using System.Security.Cryptography;
using System.Text.Json;
using Traceability.PlantSimulator.Acting;
using Traceability.PlantSimulator.Checking;
using Traceability.PlantSimulator.Story;
using Traceability.PlantSimulator.Verbs;

namespace Traceability.PlantSimulator.Demo;

/// <summary>
/// Tells the demonstration's story to a running service, decisions and all, under its scenario clock; then holds what came
/// of it against what must have come of it.
/// </summary>
internal static class DemoVerb
{
    private static readonly TimeSpan Patience = TimeSpan.FromMinutes(3);

    public static async Task<int> RunAsync(Options options, CancellationToken cancel)
    {
        var url = options.Url("--url");
        var credentials = Credentials.Load(options.Text("--credentials"));
        var database = options.Text("--database");
        var file = options.Text("--journal");
        var folder = options.Text("--out");
        var key = options.Text("--log-key");
        var verifier = options.Text("--verifier");
        options.Done();

        var wrong = new List<string>();
        var story = DemoStory.Before(TimeProvider.System.GetUtcNow());
        using var client = new ServiceClient(url, credentials);
        using var journal = new Journal(file);
        using var inspector = new Session(url, credentials.Person(Plant.Inspector.Id));
        using var engineer = new Session(url, credentials.Person(Plant.QualityEngineer.Id));
        using var administrator = new Session(url, credentials.Person(Plant.Administrator.Id));

        await ReadyAsync(client, url, cancel);
        var acted = await TellAsync(story, new Actor(client, journal), inspector, administrator, wrong, cancel);
        await RefusalsAsync(story, inspector, wrong, cancel);
        var progress = await Settling.WaitAsync(database, Patience, cancel);
        var check = await Ledger.CheckAsync(database, [file], "/service/", cancel);
        if (!check.IsGood) wrong.Add($"the store is not what was sent: {check}");
        var units = await UnitsAsync(story, engineer, wrong, cancel);
        var packet = await PacketAsync(story, engineer, folder, key, verifier, wrong, cancel);

        Summary.Write(Console.Out, url, credentials, story, acted, progress, check, units, packet, client.Resends, wrong);
        return wrong.Count == 0 ? 0 : 1;
    }

    private static async Task ReadyAsync(ServiceClient client, Uri url, CancellationToken cancel)
    {
        var began = TimeProvider.System.GetTimestamp();
        while (!await client.IsReadyAsync(cancel))
        {
            if (TimeProvider.System.GetElapsedTime(began) > Patience) throw new RefusedException($"{url}health/ready did not answer well within {Patience.TotalSeconds:0} s");
            await Task.Delay(TimeSpan.FromMilliseconds(300), cancel);
        }
    }

    // Every fact arrives, and every release is decided, at its moment of the scenario clock.
    private static async Task<List<Acted>> TellAsync(Scenario story, Actor actor, Session inspector, Session administrator, List<string> wrong, CancellationToken cancel)
    {
        var acted = new List<Acted>();
        var waiting = story.Facts.ToList();
        foreach (var release in story.Releases)
        {
            await ArriveAsync(release.At);
            await SetClockAsync(administrator, release.At, cancel);
            using var answer = await inspector.SendAsync(HttpMethod.Post, $"v1/units/{release.Unit}/releases",
                new { hold = Name(release.Hold), pin = inspector.Pin, note = (string?)null }, cancel);
            if (!answer.IsSuccessStatusCode)
                wrong.Add($"{release.Unit}: the {Name(release.Hold)} release was refused: {Clip(await answer.Content.ReadAsStringAsync(cancel), 400)}");
        }

        await ArriveAsync(story.End);
        await SetClockAsync(administrator, story.End, cancel);
        return acted;

        async Task ArriveAsync(DateTimeOffset until)
        {
            var due = waiting.TakeWhile(f => f.ArrivesAt <= until).ToList();
            waiting.RemoveRange(0, due.Count);
            // The clock moves from hour to hour, so that what arrives together is received together.
            foreach (var hour in due.GroupBy(f => f.ArrivesAt.UtcTicks / TimeSpan.TicksPerHour))
            {
                await SetClockAsync(administrator, hour.Max(f => f.ArrivesAt), cancel);
                acted.AddRange(await actor.ActAsync(hour, cancel));
            }
        }
    }

    private static async Task SetClockAsync(Session administrator, DateTimeOffset now, CancellationToken cancel)
    {
        using var answer = await administrator.SendAsync(HttpMethod.Post, "v1/scenario/clock", new { now }, cancel);
        if (!answer.IsSuccessStatusCode) throw new RefusedException($"the scenario clock could not be set: {(int)answer.StatusCode}; start the service with Scenario__Clock=true");
    }

    // A gate that lets everything through would pass the story too.
    private static async Task RefusalsAsync(Scenario story, Session inspector, List<string> wrong, CancellationToken cancel)
    {
        foreach (var (unit, hold) in new[] { (story.UnitOf(Mishaps.ForeignHeat), "pour"), (story.UnitOf(Mishaps.LowStripSet), "strip"), (story.UnitOf(Mishaps.LapsedTechnician), "ship") })
        {
            using var answer = await inspector.SendAsync(HttpMethod.Post, $"v1/units/{unit}/releases", new { hold, pin = inspector.Pin }, cancel);
            if ((int)answer.StatusCode != 409) wrong.Add($"{unit}: the {hold} release must be refused, the service answered {(int)answer.StatusCode}");
        }
    }

    private static async Task<IReadOnlyList<JsonElement>> UnitsAsync(Scenario story, Session engineer, List<string> wrong, CancellationToken cancel)
    {
        var units = new List<JsonElement>();
        for (var i = 0; i < story.Units.Count; i++)
        {
            units.Add(await engineer.JsonAsync(HttpMethod.Get, $"v1/units/{story.Units[i]}", null, cancel));
            if (Expected.All[i].Differs(units[i]) is { } difference) wrong.Add($"{story.Units[i]}: {difference}");
        }

        // Rows may lag: where time alone changed a judgement, the assembler looks every few seconds.
        var began = TimeProvider.System.GetTimestamp();
        List<string> lagging;
        do
        {
            var rows = (await engineer.JsonAsync(HttpMethod.Get, "v1/units", null, cancel)).EnumerateArray()
                .ToDictionary(r => r.GetProperty("id").GetString()!, r => r.GetProperty("judgementHash").GetString());
            lagging = [.. units.Where(u => rows.GetValueOrDefault(u.GetProperty("unit").GetString()!) != u.GetProperty("judgement").GetString()).Select(u => u.GetProperty("unit").GetString()!)];
            if (lagging.Count > 0) await Task.Delay(TimeSpan.FromMilliseconds(500), cancel);
        }
        while (lagging.Count > 0 && TimeProvider.System.GetElapsedTime(began) < TimeSpan.FromSeconds(30));

        wrong.AddRange(lagging.Select(u => $"{u}: its row holds another judgement than the one made now"));
        return units;
    }

    // One unit that went well, one whose certificate came late, one with a corrected reading.
    private static IReadOnlyList<string> PacketUnits(Scenario story) => [.. story.Units.Take(3)];

    private static async Task<IssuedPacket?> PacketAsync(Scenario story, Session engineer, string folder, string key, string verifier, List<string> wrong, CancellationToken cancel)
    {
        Directory.CreateDirectory(folder);
        using var answer = await engineer.SendAsync(HttpMethod.Post, "v1/packets", new { units = PacketUnits(story), pin = engineer.Pin }, cancel);
        var said = await answer.Content.ReadAsStringAsync(cancel);
        if (!answer.IsSuccessStatusCode)
        {
            wrong.Add($"the packet was refused: {(int)answer.StatusCode} {Clip(said, 600)}");
            return null;
        }

        using var issued = JsonDocument.Parse(said);
        var id = issued.RootElement.GetProperty("id").GetString()!;
        using var zip = await engineer.SendAsync(HttpMethod.Get, $"v1/packets/{id}", null, cancel);
        zip.EnsureSuccessStatusCode();
        var bytes = await zip.Content.ReadAsByteArrayAsync(cancel);
        var path = Path.Combine(folder, id + ".zip");
        await File.WriteAllBytesAsync(path, bytes, cancel);
        using (var archive = new ZipArchive(new MemoryStream(bytes)))
        {
            archive.GetEntry("packet.pdf")!.ExtractToFile(Path.ChangeExtension(path, ".pdf"), overwrite: true);
        }

        // The key comes from the signer's own folder, not from the packet and not over the service.
        var start = new ProcessStartInfo(verifier, [path, "--key", key]) { RedirectStandardOutput = true, RedirectStandardError = true };
        using var process = Process.Start(start)!;
        var found = process.StandardOutput.ReadToEndAsync(cancel);
        var complained = process.StandardError.ReadToEndAsync(cancel);
        await process.WaitForExitAsync(cancel);
        if (process.ExitCode != 0) wrong.Add($"the packet does not verify: {Clip(await found + await complained, 600)}");
        return new IssuedPacket(path, Convert.ToHexStringLower(SHA256.HashData(bytes)), bytes.Length, process.ExitCode == 0);
    }

    internal static string Name(Enum value) => char.ToLowerInvariant(value.ToString()[0]) + value.ToString()[1..];

    internal static string Clip(string text, int longest) =>
        text.Length <= longest ? text : string.Create(CultureInfo.InvariantCulture, $"{text[..(longest - 3)]}...");
}

/// <summary>The packet as written to disk and what the verifier made of it.</summary>
internal sealed record IssuedPacket(string Path, string Hash, int Bytes, bool Verified);
