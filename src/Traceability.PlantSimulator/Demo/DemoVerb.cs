using System.Diagnostics;
using System.Globalization;
using System.IO.Compression;
using System.Security.Cryptography;
using System.Text.Json;
using System.Text.Json.Nodes;
using Traceability.Core.Events;
using Traceability.PlantSimulator.Acting;
using Traceability.PlantSimulator.Checking;
using Traceability.PlantSimulator.Story;
using Traceability.PlantSimulator.Story.Weeks;
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
        var witness = options.Text("--witness");
        options.Done();

        var wrong = new List<string>();
        var story = EightWeeks.Before(TimeProvider.System.GetUtcNow());
        using var client = new ServiceClient(url, credentials);
        using var journal = new Journal(file);
        using var sessions = new Sessions(url, credentials);
        var engineer = sessions.Of(Plant.QualityEngineer);

        await ReadyAsync(client, url, cancel);
        await OwnSecrets.ChooseAllAsync(url, credentials, cancel);
        // The inspector works at a kiosk with a key of its own; the other stations have a shared key.
        await SetClockAsync(sessions.Of(Plant.Administrator), story.Facts[0].ArrivesAt, cancel);
        using var kiosk = await SigningKiosk.EnrolAsync(url, sessions.Of(Plant.Administrator), Plant.Inspection, cancel);
        client.Replace(Plant.Inspection.Device, kiosk);
        var outcome = new Outcome(engineer);
        var acted = await TellAsync(story, new Actor(client, journal), sessions, outcome, wrong, cancel);
        var progress = await Settling.WaitAsync(database, Patience, cancel);
        var check = await Ledger.CheckAsync(database, [file], "/service/", cancel);
        if (!check.IsGood) wrong.Add($"the store is not what was sent: {check}");
        wrong.AddRange(await outcome.DiffersAsync(story.Expectations.Where(e => e.At is null), cancel));
        var units = await UnitsAsync(story, engineer, wrong, cancel);
        var packet = await PacketAsync(engineer, folder, verifier, ["--key", key, "--witness", witness], wrong, cancel);

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

    // Every fact arrives, every decision is asked for and every chapter is looked at, at its moment of the scenario clock.
    private static async Task<List<Acted>> TellAsync(Tale story, Actor actor, Sessions sessions, Outcome outcome, List<string> wrong, CancellationToken cancel)
    {
        var acted = new List<Acted>();
        var administrator = sessions.Of(Plant.Administrator);
        var waiting = new Queue<StoryFact>(story.Facts);
        var asked = story.Asked.ToLookup(a => a.At);
        var looked = story.Expectations.Where(e => e.At <= story.End).ToLookup(e => e.At!.Value);
        foreach (var at in asked.Select(a => a.Key).Concat(looked.Select(l => l.Key)).Distinct().Order())
        {
            await ArriveAsync(at);
            await SetClockAsync(administrator, at, cancel);
            foreach (var one in asked[at]) await AskAsync(one, sessions, wrong, cancel);
            wrong.AddRange(await outcome.DiffersAsync(looked[at], cancel));
        }

        await ArriveAsync(story.End);
        await SetClockAsync(administrator, story.End, cancel);
        return acted;

        async Task ArriveAsync(DateTimeOffset until)
        {
            var due = new List<StoryFact>();
            while (waiting.TryPeek(out var next) && next.ArrivesAt <= until) due.Add(waiting.Dequeue());
            // The clock moves from hour to hour, so that what arrives together is received together.
            foreach (var hour in due.GroupBy(f => f.ArrivesAt.UtcTicks / TimeSpan.TicksPerHour))
            {
                await SetClockAsync(administrator, hour.Max(f => f.ArrivesAt), cancel);
                var now = await actor.ActAsync(hour, cancel);
                // What opens something by saying it anew waits for the deputy; the story goes on once it counts.
                if (now.Any(a => a.Receipt.Status == "approval")) await SecondPerson.ApproveAsync(sessions.Of(Plant.DeputyEngineer), cancel);
                acted.AddRange(now);
            }
        }
    }

    // A gate that lets everything through would pass the story too: what must be refused is asked for as well.
    private static async Task AskAsync(Asked asked, Sessions sessions, List<string> wrong, CancellationToken cancel)
    {
        var session = sessions.Of(asked.Person);
        var (path, body, what) = asked switch
        {
            ReleaseAsked r => ($"v1/units/{r.Unit}/releases", new JsonObject { ["hold"] = Name(r.Hold) }, $"{r.Unit}: the {Name(r.Hold)} release"),
            DecisionAsked d => ("v1/" + d.Door, (JsonObject)d.Content.DeepClone(), $"{d.Fact.About}: {FactCatalog.Of(d.Fact).Name} by {d.Door}"),
            _ => throw new ArgumentOutOfRangeException(nameof(asked), asked, "nobody knows where to ask for it"),
        };
        body["pin"] = session.Pin;
        if (asked is DecisionAsked { Second: { } second })
        {
            body["secondApprover"] = second.Id;
            body["secondPin"] = sessions.Of(second).Pin;
        }

        if (asked is DecisionAsked { Letter: { } letter })
        {
            using var kept = await session.SendAsync(HttpMethod.Post, "v1/documents", letter, cancel);
            if (!kept.IsSuccessStatusCode) wrong.Add($"{letter.Title} could not be uploaded: {Clip(await kept.Content.ReadAsStringAsync(cancel), 400)}");
        }

        using var answer = await session.SendAsync(HttpMethod.Post, path, body, cancel);
        var at = asked.At.ToString("MM-dd HH:mm", CultureInfo.InvariantCulture);
        if (asked.Refused && (int)answer.StatusCode != 409) wrong.Add($"{what} ({at}) must be refused, the service answered {(int)answer.StatusCode}");
        if (!asked.Refused && !answer.IsSuccessStatusCode) wrong.Add($"{what} ({at}) was refused: {Clip(await answer.Content.ReadAsStringAsync(cancel), 400)}");
    }

    private static async Task SetClockAsync(Session administrator, DateTimeOffset now, CancellationToken cancel)
    {
        using var answer = await administrator.SendAsync(HttpMethod.Post, "v1/scenario/clock", new { now }, cancel);
        if (!answer.IsSuccessStatusCode) throw new RefusedException($"the scenario clock could not be set: {(int)answer.StatusCode}; start the service with Scenario__Clock=true");
    }

    private static async Task<IReadOnlyList<JsonElement>> UnitsAsync(Tale story, Session engineer, List<string> wrong, CancellationToken cancel)
    {
        var units = new List<JsonElement>();
        foreach (var serial in story.Units) units.Add(await engineer.JsonAsync(HttpMethod.Get, "v1/units/" + serial, null, cancel));

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

    // Of one contract: one that went well, one whose strip set was low at first, one with a corrected reading.
    private static readonly IReadOnlyList<string> s_packetUnits = ["BC-0021", "BC-0003", "BC-0008"];

    private static async Task<IssuedPacket?> PacketAsync(Session engineer, string folder, string verifier, string[] keys, List<string> wrong, CancellationToken cancel)
    {
        Directory.CreateDirectory(folder);
        using var answer = await engineer.SendAsync(HttpMethod.Post, "v1/packets", new { units = s_packetUnits, pin = engineer.Pin }, cancel);
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

        // The keys come from the signer's and the witness's own folders, not from the packet and not over the service.
        var start = new ProcessStartInfo(verifier, [path, .. keys]) { RedirectStandardOutput = true, RedirectStandardError = true };
        using var process = Process.Start(start)!;
        var found = process.StandardOutput.ReadToEndAsync(cancel);
        var complained = process.StandardError.ReadToEndAsync(cancel);
        await process.WaitForExitAsync(cancel);
        if (process.ExitCode != 0) wrong.Add($"the packet does not verify: {Clip(await found + await complained, 600)}");
        var signed = (await found).Split('\n').FirstOrDefault(l => l.Contains("signed by the device", StringComparison.Ordinal))?.Replace("  ok     ", "", StringComparison.Ordinal);
        if (signed is null) wrong.Add("the verifier found no record signed by the inspector's kiosk");
        return new IssuedPacket(path, Convert.ToHexStringLower(SHA256.HashData(bytes)), bytes.Length, process.ExitCode == 0, signed);
    }

    internal static string Name(Enum value) => char.ToLowerInvariant(value.ToString()[0]) + value.ToString()[1..];

    internal static string Clip(string text, int longest) =>
        text.Length <= longest ? text : string.Create(CultureInfo.InvariantCulture, $"{text[..(longest - 3)]}...");
}

/// <summary>The packet as written to disk and what the verifier made of it.</summary>
/// <param name="Signed">What the verifier says of the records that devices signed.</param>
internal sealed record IssuedPacket(string Path, string Hash, int Bytes, bool Verified, string? Signed);
