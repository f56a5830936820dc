using System.Security.Cryptography;
using System.Text.Json;
using Traceability.Core.Judging;

namespace Traceability.Service.Replay;

/// <summary>A finding as a judgement's bytes state it, whichever rules made it.</summary>
public sealed record FindingText(string Hold, string Requirement, string Subject, string Title, string Verdict, string Reason, string Limit, string Observed)
{
    internal (string, string, string) Key => (Hold, Requirement, Subject);
}

/// <summary>A hold as a judgement's bytes state it.</summary>
public sealed record HoldText(string Kind, string State, int OpenItems);

/// <summary>A judgement read back from its canonical bytes, so that one kept years ago and one made now are read alike.</summary>
/// <param name="Hash">SHA-256 of the bytes, lower-case hex.</param>
public sealed record JudgementText(string Hash, string Rules, string Profile, IReadOnlyList<FindingText> Findings, IReadOnlyList<HoldText> Holds)
{
    public static JudgementText Of(Judgement judgement) => Read(judgement.Bytes);

    public static JudgementText Read(ReadOnlyMemory<byte> bytes)
    {
        using var document = JsonDocument.Parse(bytes);
        var root = document.RootElement;
        return new(Convert.ToHexStringLower(SHA256.HashData(bytes.Span)), Text(root, "rules"), Text(root, "profile"),
            [.. root.GetProperty("findings").EnumerateArray().Select(f => new FindingText(
                Text(f, "hold"), Text(f, "requirement"), Text(f, "subject"), Text(f, "title"), Text(f, "verdict"), Text(f, "reason"), Text(f, "limit"), Text(f, "observed")))],
            [.. root.GetProperty("holds").EnumerateArray().Select(h => new HoldText(
                Text(h, "kind"), Text(h, "state"), h.TryGetProperty("openItems", out var open) ? open.GetArrayLength() : 0))]);
    }

    private static string Text(JsonElement of, string name) => of.TryGetProperty(name, out var value) && value.ValueKind == JsonValueKind.String ? value.GetString()! : "";
}

/// <summary>A finding before and after; null where it was not there.</summary>
public sealed record FindingChange(FindingText? Before, FindingText? After)
{
    public FindingText Either => After ?? Before!;
}

/// <summary>A hold before and after.</summary>
public sealed record HoldChange(string Kind, HoldText? Before, HoldText? After);

/// <summary>What differs between two judgements of one unit. Pure.</summary>
public sealed record JudgementChanges(IReadOnlyList<FindingChange> Findings, IReadOnlyList<HoldChange> Holds)
{
    public bool None => Findings.Count == 0 && Holds.Count == 0;

    public static JudgementChanges Between(JudgementText before, JudgementText after)
    {
        var findings = new List<FindingChange>();
        var then = before.Findings.ToLookup(f => f.Key);
        var now = after.Findings.ToLookup(f => f.Key);
        foreach (var key in before.Findings.Concat(after.Findings).Select(f => f.Key).Distinct())
        {
            // A requirement can say several things of one subject: what is the same on both sides is left out, the rest is paired in order.
            var had = then[key].Except(now[key]).ToList();
            var has = now[key].Except(then[key]).ToList();
            for (var i = 0; i < Math.Max(had.Count, has.Count); i++) findings.Add(new(had.ElementAtOrDefault(i), has.ElementAtOrDefault(i)));
        }

        var states = before.Holds.ToDictionary(h => h.Kind, StringComparer.Ordinal);
        var holds = after.Holds.Where(h => states.GetValueOrDefault(h.Kind) != h).Select(h => new HoldChange(h.Kind, states.GetValueOrDefault(h.Kind), h))
            .Concat(before.Holds.Where(h => after.Holds.All(a => a.Kind != h.Kind)).Select(h => new HoldChange(h.Kind, h, null)));
        return new(findings, [.. holds]);
    }
}
