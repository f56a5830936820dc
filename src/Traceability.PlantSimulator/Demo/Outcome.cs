using System.Globalization;
using System.Text.Json;
using Traceability.PlantSimulator.Acting;
using Traceability.PlantSimulator.Story.Weeks;

namespace Traceability.PlantSimulator.Demo;

/// <summary>Holds expectations of the story against what the service answers.</summary>
internal sealed class Outcome(Session reader)
{
    /// <summary>What differs at this moment, chapter by chapter.</summary>
    public async Task<IReadOnlyList<string>> DiffersAsync(IEnumerable<Expectation> expectations, CancellationToken cancel)
    {
        var differences = new List<string>();
        var units = new Dictionary<string, JsonElement>(StringComparer.Ordinal);
        foreach (var expectation in expectations)
        {
            var difference = expectation switch
            {
                HoldExpected e => Of(await UnitAsync(e.Unit), e),
                FindingExpected e => Of(await UnitAsync(e.Unit), e),
                AllowedExpected e => Of(await UnitAsync(e.Unit), e),
                RecallExpected e => Of(await reader.JsonAsync(HttpMethod.Get, "v1/recall/" + e.Subject, null, cancel), e),
                PlaceExpected e => await PlaceAsync(e, cancel),
                _ => throw new ArgumentOutOfRangeException(nameof(expectations), expectation, "nobody knows how to look at it"),
            };
            if (difference is not null) differences.Add(string.Create(CultureInfo.InvariantCulture, $"{expectation.Chapter}{(expectation.At is { } at ? $" ({at:MM-dd HH:mm})" : "")}: {difference}"));
        }

        return differences;

        async Task<JsonElement> UnitAsync(string serial) =>
            units.TryGetValue(serial, out var unit) ? unit : units[serial] = await reader.JsonAsync(HttpMethod.Get, "v1/units/" + serial, null, cancel);
    }

    private static string? Of(JsonElement unit, HoldExpected e)
    {
        var hold = unit.GetProperty("holds").EnumerateArray().FirstOrDefault(h => Text(h, "kind") == Name(e.Hold));
        if (hold.ValueKind == JsonValueKind.Undefined) return $"{e.Unit}: nothing judges the {Name(e.Hold)} hold";
        if (Text(hold, "state") != Name(e.State)) return $"{e.Unit}: the {Name(e.Hold)} hold is {Text(hold, "state")}, not {Name(e.State)}; {Open(hold)}";
        var contradicted = hold.GetProperty("contradicted").GetBoolean();
        return e.Contradicted is { } expected && contradicted != expected ? $"{e.Unit}: the {Name(e.Hold)} hold is {(contradicted ? "" : "not ")}contradicted; {Open(hold)}" : null;
    }

    private static string? Of(JsonElement unit, FindingExpected e)
    {
        var findings = Findings(unit, e.Requirement);
        bool About(JsonElement f) => e.About is null || Text(f, "subject").Contains(e.About, StringComparison.Ordinal) || Text(f, "reason").Contains(e.About, StringComparison.Ordinal);
        return findings.Exists(f => Text(f, "verdict") == Name(e.Verdict) && About(f)) ? null : $"{e.Unit}: no finding of {e.Requirement} is {Name(e.Verdict)}{(e.About is null ? "" : " about " + e.About)}; {Said(findings)}";
    }

    private static string? Of(JsonElement unit, AllowedExpected e)
    {
        var findings = Findings(unit, e.Requirement);
        var against = findings.FindAll(f => Text(f, "verdict") is not ("met" or "provisional" or "notMetAccepted" or "waived" or "notApplicable"));
        return findings.Count > 0 && against.Count == 0 ? null : $"{e.Unit}: {e.Requirement} does not allow; {Said(against)}";
    }

    private static string? Of(JsonElement recall, RecallExpected e)
    {
        var units = recall.GetProperty("units").EnumerateArray().Where(u => !u.TryGetProperty("named", out var named) || named.ValueKind != JsonValueKind.False).ToList();
        List<string> Linked(string how) => [.. units.Where(u => Text(u, "link") == how).Select(u => Text(u, "unit")).Distinct().Order(StringComparer.Ordinal)];
        List<string> certain = Linked("certain"), possible = [.. Linked("possible").Except(certain)];
        return certain.SequenceEqual(e.Certain.Order(StringComparer.Ordinal)) && possible.SequenceEqual(e.Possible.Order(StringComparer.Ordinal))
            ? null : $"{e.Subject} reaches certainly {string.Join(", ", certain)} and possibly {string.Join(", ", possible)}";
    }

    private async Task<string?> PlaceAsync(PlaceExpected e, CancellationToken cancel)
    {
        // Rows may lag behind the judgement by a moment.
        var began = TimeProvider.System.GetTimestamp();
        while (true)
        {
            var row = (await reader.JsonAsync(HttpMethod.Get, "v1/units", null, cancel)).EnumerateArray().FirstOrDefault(r => Text(r, "id") == e.Unit);
            var phase = row.ValueKind == JsonValueKind.Undefined ? "unknown" : Text(row, "phase");
            if (phase == Name(e.Place)) return null;
            if (TimeProvider.System.GetElapsedTime(began) > TimeSpan.FromSeconds(15)) return $"{e.Unit} is {phase}, not {Name(e.Place)}";
            await Task.Delay(TimeSpan.FromMilliseconds(300), cancel);
        }
    }

    private static List<JsonElement> Findings(JsonElement unit, string requirement) => [.. unit.GetProperty("findings").EnumerateArray().Where(f => Text(f, "requirement") == requirement)];

    private static string Open(JsonElement hold) => "open: " + string.Join("; ", hold.GetProperty("openItems").EnumerateArray().Take(4).Select(o => $"{Text(o, "requirement")} {Text(o, "subject")}: {Text(o, "reason")}"));

    private static string Said(List<JsonElement> findings) => "there are: " + string.Join("; ", findings.Take(6).Select(f => $"{Text(f, "subject")}: {Text(f, "verdict")} {Text(f, "reason")}"));

    private static string Text(JsonElement of, string name) => of.GetProperty(name).GetString() ?? "";

    private static string Name(Enum value) => DemoVerb.Name(value);
}
