using Traceability.PlantSimulator.Story;
using System.Text.Json;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story.Weeks;
using Record = Traceability.Core.Records.Record;

namespace Traceability.Faults.Tests.Story;

/// <summary>
/// The story told to the core alone, without servers: every fact a record as it arrives, every decision judged at its
/// moment and recorded when it may be. What the service must come to as well.
/// </summary>
internal sealed class PureService
{
    private readonly HashSet<Guid> _ids = [];
    private readonly Dictionary<Subject, List<Record>> _about = [];

    /// <summary>Decisions that did not go as the story wants, in words.</summary>
    public List<string> Surprises { get; } = [];

    public static PureService Tell(Tale tale)
    {
        var service = new PureService();
        var waiting = new Queue<PlantSimulator.Story.StoryFact>(tale.Facts);
        foreach (var asked in tale.Asked)
        {
            while (waiting.TryPeek(out var next) && next.ArrivesAt <= asked.At) service.Take(waiting.Dequeue());
            service.Decide(asked);
        }

        while (waiting.TryDequeue(out var rest)) service.Take(rest);
        return service;
    }

    /// <summary>Facts alone, in their order of arrival, without a decision.</summary>
    public static PureService Of(IEnumerable<PlantSimulator.Story.StoryFact> facts)
    {
        var service = new PureService();
        foreach (var fact in facts) service.Take(fact);
        return service;
    }

    /// <summary>Whether any record bears on a unit.</summary>
    public bool Knows(string unit) => _about.ContainsKey(Subject.Unit(unit));

    public Judgement Judged(string unit, DateTimeOffset at) => Judge.Unit(File(unit, at), at);

    public UnitFile File(string unit, DateTimeOffset at)
    {
        var known = Bearing(Subject.Unit(unit), at);
        return Assemble.Unit(new Dossier(Subject.Unit(unit), known.Count, known, PlantStory.Time));
    }

    // The records that bear on a unit, and perhaps some more, as the service gathers a dossier: downwards along the links.
    private List<Record> Bearing(Subject unit, DateTimeOffset at)
    {
        var found = new HashSet<Record>();
        var seen = new HashSet<(Subject, Links.Reach)> { (unit, Links.Reach.Part) };
        var queue = new Queue<(Subject Subject, Links.Reach Reach)>(seen);
        while (queue.TryDequeue(out var here))
        {
            foreach (var record in About(here.Subject))
            {
                found.Add(record);
                foreach (var change in About(Subject.Record(record.Sent.RecordId))) found.Add(change);
                foreach (var link in record.Links())
                {
                    if (link.Kind != LinkKind.About && link.From == here.Subject && Links.Follow(here.Reach, link.Kind) is { } reach && seen.Add((link.To, reach))) queue.Enqueue((link.To, reach));
                }
            }
        }

        // A change of a change.
        foreach (var change in found.ToList().SelectMany(r => About(Subject.Record(r.Sent.RecordId)))) found.Add(change);
        return [.. found.OrderBy(r => r.Position)];

        IEnumerable<Record> About(Subject subject) => _about.GetValueOrDefault(subject, []).Where(r => r.ReceivedAt <= at);
    }

    private void Take(PlantSimulator.Story.StoryFact fact)
    {
        // Intake refuses a second content under one id that it still knows; the same content again is not recorded twice.
        if (_ids.Add(fact.Event.RecordId)) Add(fact.Event, fact.Device, fact.ArrivesAt);
    }

    private void Add(CloudEvent sent, string device, DateTimeOffset at)
    {
        var record = Record.Read(Record.Write(sent, sent.RecordId, device, "intake", at, at), _ids.Count);
        foreach (var subject in record.Links().Where(l => l.Kind == LinkKind.About).Select(l => l.From).Distinct())
        {
            if (!_about.TryGetValue(subject, out var records)) _about[subject] = records = [];
            records.Add(record);
        }
    }

    private void Decide(Asked asked)
    {
        // What the service would refuse of other decisions is its own to say; the core has no part in it.
        var fact = asked switch
        {
            ReleaseAsked release => Released(release),
            DecisionAsked { Refused: false } decision => decision.Fact,
            _ => null,
        };
        if (fact is null) return;
        var sent = CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(new
        {
            specversion = "1.0",
            id = $"decision-{_ids.Count}",
            source = "/service/decisions",
            type = FactCatalog.Of(fact).Type,
            subject = fact.About.Key,
            time = asked.At.ToString("yyyy-MM-dd'T'HH:mm:ss.fffzzz", System.Globalization.CultureInfo.InvariantCulture),
            datacontenttype = "application/json",
            person = asked.Person.Id,
            clockoffsetms = 0,
            data = FactCatalog.Write(fact),
        }));
        _ids.Add(sent.RecordId);
        Add(sent, "service", asked.At);
    }

    private IFact? Released(ReleaseAsked asked)
    {
        var judgement = Judged(asked.Unit, asked.At);
        var hold = judgement.Hold(asked.Hold);
        if (hold.MayBeReleased == asked.Refused)
            Surprises.Add($"{asked.Unit} {asked.Hold} {asked.At:MM-dd HH:mm}: {hold.State} {hold.Cause}; {string.Join("; ", hold.OpenItems.Take(3).Select(o => $"{o.Requirement} {o.Subject}: {o.Verdict} {o.Reason}"))}");
        if (!hold.MayBeReleased) return null;
        var basis = new DecisionBasis(_ids.Count, judgement.Hash, judgement.RulesVersion);
        return asked.Hold switch
        {
            HoldKind.Tying => new TyingReleased(asked.Unit, basis),
            HoldKind.CloseUp => new CloseUpReleased(asked.Unit, basis),
            HoldKind.Pour => new PourReleased(asked.Unit, basis),
            HoldKind.Strip => new StripReleased(asked.Unit, basis),
            HoldKind.Ship => new ShipReleased(asked.Unit, basis),
            _ => throw new ArgumentOutOfRangeException(nameof(asked), asked.Hold, "nobody releases it"),
        };
    }
}
