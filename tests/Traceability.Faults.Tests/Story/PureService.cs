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
    private readonly List<Record> _records = [];

    /// <summary>Decisions that did not go as the story wants, in words.</summary>
    public List<string> Surprises { get; } = [];

    /// <summary>What was known at a moment.</summary>
    public IReadOnlyList<Record> Known(DateTimeOffset at) => _records.TakeWhile(r => r.ReceivedAt <= at).ToList();

    public static PureService Tell(Tale tale)
    {
        var service = new PureService();
        var waiting = new Queue<PlantSimulator.Story.StoryFact>(tale.Facts);
        foreach (var asked in tale.Asked)
        {
            while (waiting.TryPeek(out var next) && next.ArrivesAt <= asked.Release.At) service.Take(waiting.Dequeue());
            service.Decide(asked);
        }

        while (waiting.TryDequeue(out var rest)) service.Take(rest);
        return service;
    }

    public Judgement Judged(string unit, DateTimeOffset at) => Judge.Unit(File(unit, at), at);

    public UnitFile File(string unit, DateTimeOffset at)
    {
        var known = Known(at);
        return Assemble.Unit(new Dossier(Subject.Unit(unit), known.Count, known));
    }

    private void Take(PlantSimulator.Story.StoryFact fact)
    {
        // Intake refuses a second content under one id that it still knows; the same content again is not recorded twice.
        if (_records.Exists(r => r.Sent.RecordId == fact.Event.RecordId)) return;
        Add(fact.Event, fact.Device, fact.ArrivesAt);
    }

    private void Add(CloudEvent sent, string device, DateTimeOffset at) =>
        _records.Add(Record.Read(Record.Write(sent, sent.RecordId, device, "intake", at, at), _records.Count + 1));

    private void Decide(Asked asked)
    {
        var (unit, kind, at, person) = asked.Release;
        var judgement = Judged(unit, at);
        var hold = judgement.Hold(kind);
        var ready = hold is { State: HoldState.Ready };
        if (ready == asked.Refused)
            Surprises.Add($"{unit} {kind} {at:MM-dd HH:mm}: {hold.State}; {string.Join("; ", hold.OpenItems.Take(3).Select(o => $"{o.Requirement} {o.Subject}: {o.Verdict} {o.Reason}"))}");
        if (!ready) return;
        var basis = new DecisionBasis(_records.Count, judgement.Hash, judgement.RulesVersion);
        IFact fact = kind switch
        {
            HoldKind.Tying => new TyingReleased(unit, basis),
            HoldKind.CloseUp => new CloseUpReleased(unit, basis),
            HoldKind.Pour => new PourReleased(unit, basis),
            HoldKind.Strip => new StripReleased(unit, basis),
            HoldKind.Ship => new ShipReleased(unit, basis),
            _ => throw new ArgumentOutOfRangeException(nameof(asked)),
        };
        Add(CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(new
        {
            specversion = "1.0",
            id = $"{unit}-{kind}-{at:O}",
            source = "/service/decisions",
            type = FactCatalog.Of(fact).Type,
            subject = fact.About.Key,
            time = at.ToString("yyyy-MM-dd'T'HH:mm:ss.fffzzz", System.Globalization.CultureInfo.InvariantCulture),
            datacontenttype = "application/json",
            person,
            clockoffsetms = 0,
            data = FactCatalog.Write(fact),
        })), "service", at);
    }
}
