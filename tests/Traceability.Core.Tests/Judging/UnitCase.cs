using System.Globalization;
using System.Text.Json;
using System.Text.Json.Nodes;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;
using Traceability.Core.Quantities;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story;
using Record = Traceability.Core.Records.Record;

namespace Traceability.Core.Tests.Judging;

/// <summary>
/// One good unit of the story, to be changed fact by fact and judged. A case starts with everything in order and known up
/// to the end of the story; every change returns a new case.
/// </summary>
internal sealed record UnitCase(IReadOnlyList<Record> Records, DateTimeOffset At)
{
    private static readonly Lazy<UnitCase> Whole = new(() =>
    {
        var story = PlantStory.RigidFrame(seed: 11, units: 1, new DateTimeOffset(2026, 3, 2, 7, 0, 0, TimeSpan.FromHours(-5)));
        return new UnitCase([.. story.Facts.Select((f, i) => Recorded(f.Event, i + 1))], story.End.AddDays(1));
    });

    public const string Unit = "RF-0001";

    /// <summary>The unit from drawing to shipment and its 28-day breaks, all in order.</summary>
    public static UnitCase Good => Whole.Value;

    public static Reading R(string text) => Reading.Parse(text);

    public static Record Recorded(CloudEvent sent, long position)
    {
        var at = sent.Time.AddSeconds(5);
        return Record.Read(Record.Write(sent, sent.RecordId, "test", "intake", at, at), position);
    }

    /// <summary>Only what happened before the first fact of a type, as known then.</summary>
    public UnitCase Before<T>() where T : IFact
    {
        var first = Records.First(r => r.Fact is T).OccurredAt.At;
        return new UnitCase([.. Records.Where(r => r.OccurredAt.At < first)], first);
    }

    public UnitCase AsOf(DateTimeOffset at) => this with { At = at };

    public UnitCase Without<T>(Func<T, bool>? which = null) where T : IFact =>
        this with { Records = [.. Records.Where(r => r.Fact is not T fact || which?.Invoke(fact) == false)] };

    public UnitCase Change<T>(Func<T, T> change) where T : IFact => Change((T fact, Record _) => change(fact));

    public UnitCase Change<T>(Func<T, Record, T> change, string? person = null, Func<Record, DateTimeOffset>? time = null) where T : IFact =>
        this with { Records = [.. Records.Select(r => r.Fact is T fact ? Rewrite(r, change(fact, r), person, time?.Invoke(r)) : r)] };

    public UnitCase By<T>(string? person) where T : IFact
    {
        return this with { Records = [.. Records.Select(r => r.Fact is T ? Rewrite(r, r.Fact, person ?? "", null) : r)] };
    }

    /// <summary>Moves the facts of a type in time.</summary>
    public UnitCase Move<T>(TimeSpan by) where T : IFact => Change((T fact, Record _) => fact, time: r => r.Sent.Time + by);

    public UnitCase Add(IFact fact, DateTimeOffset at, string person = "p-101", string source = "/test/station", string? id = null)
    {
        var sent = Write(new JsonObject
        {
            ["specversion"] = "1.0",
            ["id"] = id ?? $"added-{Records.Count}",
            ["source"] = source,
            ["type"] = FactCatalog.Of(fact).Type,
            ["time"] = at.ToString("yyyy-MM-dd'T'HH:mm:ss.fffzzz", CultureInfo.InvariantCulture),
            ["person"] = person,
            ["clockoffsetms"] = 0,
        }, fact);
        return this with { Records = [.. Records, Recorded(sent, Records.Count + 1)] };
    }

    /// <summary>Changes one limit of the profile, adds it, or takes it away by returning null.</summary>
    public UnitCase Limit(string key, Func<Limit?, Limit?> change) => Change<ProfilePublished>(p =>
    {
        var changed = change(p.Limits.FirstOrDefault(l => l.Key == key));
        return p with { Limits = [.. p.Limits.Where(l => l.Key != key), .. changed is null ? Array.Empty<Limit>() : [changed]] };
    });

    public UnitCase Limit(string key, string value) => Limit(key, l =>
        l is null ? new Limit(key, R(value), "in", value, new Citation("Invented special provision", SourceMark.CommonPractice), LimitRank.SpecialProvision) : l with { Value = R(value) });

    public UnitCase Round(RoundingRule rule) => Change<ProfilePublished>(p => p with { Rounding = rule });

    public T The<T>() where T : IFact => (T)Records.First(r => r.Fact is T).Fact!;

    public Record RecordOf<T>(Func<T, bool>? which = null) where T : IFact => Records.First(r => r.Fact is T fact && which?.Invoke(fact) != false);

    public Judgement Judge() => Traceability.Core.Judging.Judge.Dossier(new Dossier(Subject.Unit(Unit), Records.Count, Records, PlantStory.Time), At);

    /// <summary>By the contract's limits alone.</summary>
    public Judgement ByContract() => Traceability.Core.Judging.Judge.ByContract(Assemble.Unit(new Dossier(Subject.Unit(Unit), Records.Count, Records, PlantStory.Time)), At);

    public IReadOnlyList<Finding> Findings(string requirement) => [.. Judge().Findings.Where(f => f.Requirement == requirement)];

    public Finding Finding(string requirement, string? subject = null)
    {
        var found = Findings(requirement).Where(f => subject is null || f.Subject.Contains(subject, StringComparison.Ordinal)).ToList();
        return found.Count == 1 ? found[0] : throw new InvalidOperationException(
            $"{found.Count} findings of {requirement} about '{subject}': {string.Join("; ", Findings(requirement).Select(f => f.Subject + " " + f.Verdict))}");
    }

    public Verdict Verdict(string requirement, string? subject = null) => Finding(requirement, subject).Verdict;

    private static Record Rewrite(Record record, IFact fact, string? person, DateTimeOffset? time)
    {
        var envelope = JsonNode.Parse(record.Sent.Canonical.Span)!.AsObject();
        if (person is "") envelope.Remove("person");
        else if (person is not null) envelope["person"] = person;
        if (time is { } at) envelope["time"] = at.ToString("yyyy-MM-dd'T'HH:mm:ss.fffzzz", CultureInfo.InvariantCulture);
        return Recorded(Write(envelope, fact), record.Position);
    }

    private static CloudEvent Write(JsonObject envelope, IFact fact)
    {
        envelope["data"] = JsonNode.Parse(FactCatalog.Write(fact).GetRawText());
        return CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(envelope));
    }
}
