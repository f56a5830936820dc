using System.Text.Json;
using Traceability.PlantSimulator.Acting;
using Traceability.PlantSimulator.Checking;
using Traceability.PlantSimulator.Story;
using Traceability.PlantSimulator.Story.Weeks;

namespace Traceability.PlantSimulator.Demo;

/// <summary>The demonstration's result on one screen.</summary>
internal static class Summary
{
    public static void Write(
        TextWriter to, Uri url, Credentials credentials, Tale story, List<Acted> acted, Progress progress, CheckResult check,
        IReadOnlyList<JsonElement> units, IssuedPacket? packet, long resends, List<string> wrong)
    {
        var refused = acted.Count(a => a.Receipt.IsRefused);
        var conflicts = acted.Count(a => a.Receipt.Status == "conflict");
        to.WriteLine();
        to.WriteLine($"Facts     {acted.Count} sent, {acted.Count(a => a.Receipt.IsRecorded)} recorded, {conflicts} conflict ({refused} refused at intake), {acted.Count(a => a.Receipt.Status == "approval")} recorded once the second person approved, {acted.Count(a => a.Receipt.Status is "quarantined" or "parked" or "claimed")} set apart, {resends} sent again");
        to.WriteLine($"Records   {progress.Records} recorded = {progress.Leaves} leaves = {progress.Sealed} sealed; lost {check.Lost.Count}, unexpected {check.Unexpected.Count}, duplicated {check.Duplicated.Count}");
        to.WriteLine($"Story     {story.Start:yyyy-MM-dd} to {story.End:yyyy-MM-dd HH:mm zzz} by the scenario clock, {story.Asked.Count(a => !a.Refused)} decisions given, {story.Asked.Count(a => a.Refused)} refused as they must be");
        to.WriteLine($"Chapters  {story.Expectations.Select(e => e.Chapter).Distinct().Count()}, with {story.Expectations.Count} expectations, {story.Expectations.Count(e => e.At is not null)} of them at moments of the story");
        to.WriteLine($"Units     {units.Count}: pour, strip and ship hold of each, and the first thing that is open");
        foreach (var unit in units) to.WriteLine("  " + Unit(unit));
        if (packet is not null)
        {
            to.WriteLine($"Packet    {packet.Path} ({packet.Bytes / 1024} KiB), {(packet.Verified ? "verified with the log's key and the witness's" : "DOES NOT VERIFY")}");
            if (packet.Signed is { } signed) to.WriteLine($"          {signed}");
            to.WriteLine($"          sha256 {packet.Hash}");
        }

        to.WriteLine($"Pages     {url}  {url}units/BC-0005  {url}kiosk/  {url}api-docs");
        to.WriteLine("Sign-ins  made for this run (person, password, PIN):");
        foreach (var worker in new[] { Plant.Inspector, Plant.QualityEngineer, Plant.DeputyEngineer, Plant.NorthInspector, Plant.CageForeman, Plant.Administrator, Plant.Auditor })
        {
            var person = credentials.Person(worker.Id);
            to.WriteLine($"          {person.Id}  {person.Password}  {person.Pin}  {worker.Duty}");
        }

        foreach (var line in wrong) to.WriteLine($"WRONG     {line}");
        to.WriteLine(wrong.Count == 0 ? "Everything expected happened." : $"{wrong.Count} things are not as expected.");
    }

    private static string Unit(JsonElement unit)
    {
        var holds = unit.GetProperty("holds").EnumerateArray().ToDictionary(h => h.GetProperty("kind").GetString()!);
        string State(string kind) => (holds[kind].GetProperty("state").GetString()! + (holds[kind].GetProperty("contradicted").GetBoolean() ? "!" : "")).PadRight(9);
        var next = new[] { "pour", "strip", "ship" }.Select(k => holds[k]).FirstOrDefault(h => h.GetProperty("state").GetString() is "held" or "cannotTell" || h.GetProperty("contradicted").GetBoolean());
        var open = next.ValueKind == JsonValueKind.Undefined ? [] : next.GetProperty("openItems").EnumerateArray().ToList();
        var first = open.Count == 0 ? "" : $"{open.Count} open: {open[0].GetProperty("requirement").GetString()}: {open[0].GetProperty("reason").GetString()}";
        return $"{unit.GetProperty("unit").GetString(),-8} {State("pour")} {State("strip")} {State("ship")} {DemoVerb.Clip(first, 96)}".TrimEnd();
    }
}
