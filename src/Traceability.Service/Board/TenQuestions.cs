using System.Globalization;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.Service.Assembling;
using Traceability.Service.Pages;

namespace Traceability.Service.Board;

/// <summary>One of the questions of a working day, answered.</summary>
/// <param name="None">What to say when nothing answers it.</param>
/// <param name="Note">What the answer does not cover, or a caution.</param>
public sealed record Question(int Number, string Id, string Title, IReadOnlyList<Line> Lines, string None, string? Note = null)
{
    public int Acting => Lines.Count(l => l.Mark.Urgency == Urgency.Act);
}

/// <summary>One line of an answer: what it is about, its state, and why.</summary>
public sealed record Line(string Name, string? Href, Mark Mark, string Text, IReadOnlyList<Reason> Reasons)
{
    /// <summary>Units it bears on.</summary>
    public IReadOnlyList<UnitAt> Units { get; init; } = [];
}

/// <summary>Why, and who can clear it.</summary>
public sealed record Reason(Mark Mark, string Text, string Clear);

public sealed record UnitAt(string Serial, string Where);

/// <summary>A lot of steel as received and certified.</summary>
public sealed record RackLot(string Key, string Description, DateTimeOffset ReceivedAt, bool Certified, bool DomesticStated);

/// <summary>Something with an end of validity.</summary>
public sealed record Validity(string Key, string What, DateOnly Through);

/// <summary>What the ten questions are answered from.</summary>
public sealed record BoardFacts(
    IReadOnlyList<UnitRow> Units, IReadOnlyList<RackLot> Rack, IReadOnlyList<Validity> Validities, DateTimeOffset Now, PlantSettings Plant);

/// <summary>The ten questions of every working day, each with the reason and who can clear it. Pure.</summary>
public static class TenQuestions
{
    private const int LapseDays = 30;
    private const string Engineer = "Local codes and the licensed engineer decide.";

    public static IReadOnlyList<Question> Answer(BoardFacts facts) =>
    [
        ToPour(facts), ToStrip(facts), Samples(facts), LowBreaks(facts), Rack(facts), Cylinders(facts), FreshOutOfLimits(facts), ToShip(facts), Nonconformances(facts), Lapsing(facts),
    ];

    private static Question ToPour(BoardFacts facts) => new(1, "pour", "Which units are to be poured, and what blocks each?",
        [.. facts.Units.Where(u => u.Phase is UnitPhase.Scheduled or UnitPhase.Tied or UnitPhase.Inspected && u.PourOn <= facts.Plant.Today.AddDays(1))
            .OrderBy(u => u.PourOn).ThenBy(u => u.Form, StringComparer.Ordinal).ThenBy(u => u.Id, StringComparer.Ordinal)
            .Select(u => Standing(u, HoldKind.Pour, $"{Day(u.PourOn!.Value, facts)}, form {u.Form}, {Words.Of(u.Phase)}"))],
        "No unit is scheduled to be poured through tomorrow.");

    private static Question ToStrip(BoardFacts facts) => new(2, "strip", "May this unit be stripped now?",
        [.. facts.Units.Where(u => u.Phase == UnitPhase.Poured).OrderBy(u => u.PouredAt).ThenBy(u => u.Id, StringComparer.Ordinal)
            .Select(u => Standing(u, HoldKind.Strip, $"poured {facts.Plant.Near(u.PouredAt!.Value)}, form {u.Form}"))],
        "No poured unit is in a form.",
        "Nobody under a piece; lift only at the stated strength with the stated gear. " + Engineer);

    private static Question Samples(BoardFacts facts) => new(3, "samples", "Before the crew leaves: is a unit without a valid sample?",
        [.. facts.Units.Where(u => u.Phase == UnitPhase.Poured)
            .Select(u => (Unit: u, Why: u.Open.Where(o => o.Hold == HoldKind.Place && o.Verdict is Verdict.Missing or Verdict.NotMet && o.Requirement.Contains("sampl", StringComparison.Ordinal)).Select(ReasonOf).ToList()))
            .Where(x => x.Why.Count > 0 || x.Unit.Cylinders.Count == 0)
            .OrderBy(x => x.Unit.PouredAt)
            .Select(x => new Line(x.Unit.Id, Words.Unit(x.Unit.Id), Words.Of(Verdict.Missing), $"poured {facts.Plant.Near(x.Unit.PouredAt!.Value)}",
                x.Why.Count > 0 ? x.Why : [new(Words.Of(Verdict.Missing), "No cylinders from any batch in this unit.", "The laboratory samples a batch that is in it before the crew leaves, or records the sample it took.")]))],
        "Every poured unit in a form has a sample with cylinders.",
        "Cannot be made good after the pour day.");

    private static Question LowBreaks(BoardFacts facts)
    {
        var low = facts.Units.SelectMany(u => u.Open.Where(o => o is { Sample: not null, Verdict: Verdict.NotMet })).ToLookup(o => o.Sample!, StringComparer.Ordinal);
        return new(4, "low-breaks", "A low break: which units does it represent, and where are they?",
            [.. low.OrderBy(g => g.Key, StringComparer.Ordinal).Select(g => new Line("Sample " + g.Key, Words.Href("sample:" + g.Key), Words.Of(Verdict.NotMet), "",
                [.. g.Select(o => ReasonOf(o) with { Text = $"{o.Title}: {o.Reason}" }).Distinct()])
                {
                    Units = [.. facts.Units.Where(u => u.Reached.Contains("sample:" + g.Key, StringComparer.Ordinal)).OrderBy(u => u.Id, StringComparer.Ordinal).Select(At)],
                })],
            "No break that counts is below what its unit needs.",
            "A low result is never dropped without a named decision. " + Engineer);
    }

    private static Question Rack(BoardFacts facts)
    {
        var inCages = facts.Units.Where(u => !UnitState.IsOver(u.Phase))
            .SelectMany(u => u.Open.Where(o => o.Hold == HoldKind.Tying && Subject.TryParse(o.Subject, out var s) && s.Kind == "lot").Select(o => (Unit: u, Item: o)))
            .GroupBy(x => x.Item.Subject, StringComparer.Ordinal).OrderBy(g => g.Key, StringComparer.Ordinal)
            .Select(g => new Line(LotName(g.Key), Words.Href(g.Key), Words.Of(g.First().Item.Verdict), "already in a cage",
                [.. g.Select(x => ReasonOf(x.Item)).DistinctBy(r => r.Text)]) { Units = [.. g.Select(x => x.Unit).DistinctBy(u => u.Id).Select(At)] }).ToList();
        var named = inCages.Select(l => l.Href).ToHashSet(StringComparer.Ordinal);
        return new(5, "rack", "Which heats have no certificate or domestic statement?",
            [.. inCages, .. facts.Rack.Where(l => !named.Contains(Words.Href(l.Key)) && (!l.Certified || !l.DomesticStated)).OrderBy(l => l.Key, StringComparer.Ordinal)
                .Select(l => l.Certified
                    ? new Line(LotName(l.Key), Words.Href(l.Key), Words.Of(Verdict.Pending), $"{l.Description}, received {facts.Plant.Near(l.ReceivedAt)}",
                        [new(Words.Of(Verdict.Pending), "The certificate does not state where it was melted and manufactured.", "Receiving asks the mill, where the contract wants domestic steel.")])
                    : new Line(LotName(l.Key), Words.Href(l.Key), Words.Of(Verdict.Missing), $"{l.Description}, received {facts.Plant.Near(l.ReceivedAt)}",
                        [new(Words.Of(Verdict.Missing), "No mill test report is recorded.", "Receiving reads in the certificate before the bars are tied.")]))],
            "Every heat received has its certificate with its origin.");
    }

    private static Question Cylinders(BoardFacts facts)
    {
        var lines = new List<(DateTimeOffset Order, Line Line)>();
        foreach (var group in facts.Units.SelectMany(u => u.Cylinders.Select(c => (Unit: u, Cylinder: c))).GroupBy(x => x.Cylinder.Sample, StringComparer.Ordinal))
        {
            var cylinders = group.Select(x => x.Cylinder).DistinctBy(c => c.Cylinder).ToList();
            var spares = cylinders.Count(c => c is { Purpose: CylinderPurpose.Spare, Broken: false });
            IReadOnlyList<UnitAt> units = [.. group.Select(x => x.Unit).DistinctBy(u => u.Id).OrderBy(u => u.Id, StringComparer.Ordinal).Select(At)];
            foreach (var set in cylinders.Where(c => !c.Broken && c.DueAt is not null).GroupBy(c => (c.Purpose, c.DueAt, c.WindowHours)))
            {
                var due = set.Key.DueAt!.Value;
                var window = TimeSpan.FromHours((double)(set.Key.WindowHours ?? 0));
                if (due - window > facts.Now.AddDays(2)) continue;
                var mark = facts.Now > due + window ? new Mark("✕", "window missed", Urgency.Act)
                    : facts.Now >= due - window ? new Mark("!", "break now", Urgency.Act) : new Mark("…", "due soon", Urgency.Watch);
                var weekend = facts.Plant.Local(due).DayOfWeek is DayOfWeek.Saturday or DayOfWeek.Sunday ? " Falls on a weekend." : "";
                lines.Add((due, new Line("Sample " + group.Key, Words.Href("sample:" + group.Key), mark,
                    $"{Words.Count(set.Count(), "cylinder")} for {Words.Of(set.Key.Purpose)}, {Words.Count(spares, "spare")} left",
                    [new(mark, $"Due {facts.Plant.Near(due)}" + (window > TimeSpan.Zero ? $", window {facts.Plant.Near(due - window)} to {facts.Plant.Near(due + window)}." : ".") + weekend, "The laboratory breaks the set.")]) { Units = units }));
            }
        }

        return new(6, "cylinders", "Which cylinders are due, until when, and what spares are left?", [.. lines.OrderBy(l => l.Order).Select(l => l.Line)],
            "No acceptance cylinders fall due within two days.",
            "Strip and ship sets are broken when the crew asks. Compression machine: shield closed, eye protection.");
    }

    private static Question FreshOutOfLimits(BoardFacts facts)
    {
        var beyond = facts.Units.Where(u => !UnitState.IsOver(u.Phase))
            .SelectMany(u => u.Open.Where(o => o is { Hold: HoldKind.Place, Verdict: Verdict.NotMet } && (o.Limit.Length > 0 || o.Requirement.Contains("reject", StringComparison.Ordinal))).Select(o => (Unit: u, Item: o))).ToList();
        return new(7, "fresh", "Concrete out of limits: what to retest, which units hold it?",
            [.. beyond.GroupBy(x => (x.Item.Requirement, Subject: Outside(x.Item.Subject) ?? x.Unit.Id)).OrderBy(g => g.Key.Subject, StringComparer.Ordinal)
                .Select(g => new Line(g.First().Item.Title, Words.Href(g.First().Item.Subject), Words.Of(Verdict.NotMet),
                    string.Join(", ", new[] { Outside(g.First().Item.Subject), g.First().Item.Observed.Length > 0 ? "observed " + g.First().Item.Observed : null, g.First().Item.Limit }.Where(t => t is not null)), [ReasonOf(g.First().Item)])
                {
                    Units = [.. g.Select(x => x.Unit).DistinctBy(u => u.Id).OrderBy(u => u.Id, StringComparer.Ordinal).Select(At)],
                })],
            "No concrete in a unit of the plant is out of limits.");
    }

    private static Question ToShip(BoardFacts facts) => new(8, "ship", "Tomorrow's truck: what does each unit still lack?",
        [
            .. facts.Units.Where(u => UnitState.AwaitsShipment(u.Phase)).OrderByDescending(u => u.Phase == UnitPhase.Loaded).ThenBy(u => u.PouredAt).ThenBy(u => u.Id, StringComparer.Ordinal)
                .Select(u => Standing(u, HoldKind.Ship, u.Place ?? "")),
            .. facts.Units.Where(u => UnitState.HasLeft(u.Phase) && u.Alarms.Any(a => a.Hold == HoldKind.Ship)).OrderBy(u => u.PouredAt).ThenBy(u => u.Id, StringComparer.Ordinal)
                .Select(u => Standing(u, HoldKind.Ship, u.Place ?? "") with { Reasons = [.. Heard(u, HoldKind.Ship)] }),
        ],
        "No unit waits to be shipped.",
        "Units on a truck come first, then those in the yard; last what left and should not have.");

    private static Question Nonconformances(BoardFacts facts)
    {
        var today = facts.Plant.Today.DayNumber;
        return new(9, "nonconformances", "Nonconformances by age: whose answer is awaited?",
            [.. facts.Units.SelectMany(u => u.Nonconformances.Select(n => (Unit: u, State: n))).GroupBy(x => x.State.Id, StringComparer.Ordinal)
                // One unit's repair may be done and another's not: what is awaited first is awaited.
                .Select(g => (State: g.MinBy(x => x.State.Awaited).State, Early: g.Any(x => x.State.RepairTooEarly), Units: g.Select(x => x.Unit).DistinctBy(u => u.Id).OrderBy(u => u.Id, StringComparer.Ordinal).Select(At)))
                .OrderBy(n => n.State.RaisedAt).ThenBy(n => n.State.Id, StringComparer.Ordinal)
                .Select(n => new Line(n.State.Id, Words.Href("nonconformance:" + n.State.Id), n.Early ? new("!", "repaired too early", Urgency.Act) : Awaits(n.State.Awaited),
                    $"{n.State.Class.ToString().ToLowerInvariant()}{(n.State.Structural ? ", structural" : "")}, {Words.Count(today - Matter.DayOf(facts.Plant.Local(n.State.RaisedAt)).DayNumber, "day")} old",
                    [.. Reasons(n.State, n.Early)]) { Units = [.. n.Units] })],
            "No nonconformance is open.",
            Engineer);
    }

    private static Mark Awaits(Awaited awaited) => awaited switch
    {
        Awaited.Disposition => new("○", "no disposition", Urgency.Act),
        Awaited.Letter => new("…", "letter awaited", Urgency.Watch),
        Awaited.Repair => new("…", "to be repaired", Urgency.Watch),
        Awaited.Closing => new("▷", "to be closed", Urgency.Watch),
        _ => new("✓", "closed", Urgency.None),
    };

    private static IEnumerable<Reason> Reasons(NonconformanceState state, bool early)
    {
        if (early) yield return new(new("!", "repaired too early", Urgency.Act), "The repair began before it was approved.", "The quality engineer takes it up with the agency.");
        yield return new(Awaits(state.Awaited), state.Description, state.Awaited switch
        {
            Awaited.Disposition => "The quality engineer decides what becomes of it.",
            Awaited.Letter => "The engineer of record answers by letter; no repair before.",
            Awaited.Repair => "The yard repairs it by the approved procedure.",
            Awaited.Closing => "The quality engineer closes it.",
            _ => "",
        });
    }

    private static Question Lapsing(BoardFacts facts)
    {
        var today = facts.Plant.Today;
        return new(10, "lapse", "What is about to lapse, and which units would that stop?",
            [.. Releases(facts), .. facts.Validities.Where(v => v.Through < today.AddDays(LapseDays)).OrderBy(v => v.Through).ThenBy(v => v.Key, StringComparer.Ordinal)
                .Select(v =>
                {
                    var units = facts.Units.Where(u => !UnitState.IsOver(u.Phase) && u.Reached.Contains(v.Key, StringComparer.Ordinal)).OrderBy(u => u.Id, StringComparer.Ordinal).Select(At).ToList();
                    var lapsed = v.Through < today;
                    var mark = lapsed ? new Mark("✕", "lapsed", units.Count > 0 ? Urgency.Act : Urgency.Watch) : new Mark("…", "lapses", Urgency.Watch);
                    return new Line(v.Key[(v.Key.IndexOf(':', StringComparison.Ordinal) + 1)..], Words.Href(v.Key), mark, $"{v.What}, through {PlantSettings.Day(v.Through)}", []) { Units = units };
                })],
            $"Nothing recorded lapses within {LapseDays} days.",
            "Releases that end within a day; certificates of people, calibrations, mixes, sources and approvals of plants. Units listed are in the plant and have been worked on with it.");
    }

    // A release is for hours, so a month ahead says nothing.
    private static IEnumerable<Line> Releases(BoardFacts facts) =>
        from unit in facts.Units
        from hold in unit.Holds
        where hold is { State: HoldState.Released or HoldState.Overridden, ValidUntil: not null } && hold.Kind == UnitState.NextHold(unit.Phase) && hold.ValidUntil <= facts.Now.AddDays(1)
        orderby hold.ValidUntil, unit.Id
        select new Line(unit.Id, Words.Unit(unit.Id), hold.ValidUntil <= facts.Now ? new Mark("✕", "lapsed", Urgency.Act) : new Mark("…", "lapses", Urgency.Watch),
            $"release of the {Words.Of(hold.Kind).ToLowerInvariant()} hold, until {facts.Plant.Near(hold.ValidUntil!.Value)}", []) { Units = [At(unit)] };

    private static Line Standing(UnitRow unit, HoldKind kind, string text)
    {
        var hold = unit.Holds.First(h => h.Kind == kind);
        var open = unit.OpenItems.Select(o => new Reason(Words.Of(o.Verdict), o.Reason, o.Clear)).Distinct();
        return new Line(unit.Id, Words.Unit(unit.Id), Words.Of(hold), string.Join(", ", new[] { unit.Mark is null ? null : "mark " + unit.Mark, text, By(hold.Authority) }.Where(t => !string.IsNullOrEmpty(t))),
            [.. Heard(unit, kind).Concat(open)]);
    }

    private static string? By(HoldAuthority authority) => authority switch
    {
        HoldAuthority.AgencyHold => "the agency's hold",
        HoldAuthority.AgencyWitness => "the agency witnesses",
        _ => null,
    };

    // What went wrong at this hold or an earlier one, before what is still open.
    private static IEnumerable<Reason> Heard(UnitRow unit, HoldKind kind) =>
        unit.Alarms.Where(a => a.Hold <= kind).Select(a => a.Kind switch
        {
            AlarmKind.Contradicted => new Reason(new("!", "contradicted", Urgency.Act), a.Words, "The quality engineer looks at it before the next step."),
            AlarmKind.Expired => new Reason(new("✕", "release expired", Urgency.Act), a.Words, "It is looked at and released again."),
            AlarmKind.CannotTell => new Reason(new("?", "cannot tell", Urgency.Act), a.Words, "The quality engineer finds out what came first."),
            _ => new Reason(new("!", "breach", Urgency.Act), a.Words, "The quality engineer takes it up; nothing fixes it."),
        }).Distinct();

    private static Reason ReasonOf(OpenRow open) => new(Words.Of(open.Verdict), open.Reason, open.Clear);

    private static UnitAt At(UnitRow unit) => new(unit.Id, unit.Place ?? Words.Of(unit.Phase));

    // A finding about the unit itself names nothing that other units share.
    private static string? Outside(string subject) => subject.StartsWith("unit:", StringComparison.Ordinal) ? null : subject;

    private static string LotName(string key) => "Heat " + key[(key.IndexOf(':', StringComparison.Ordinal) + 1)..];

    private static string Day(DateOnly day, BoardFacts facts) => (day.DayNumber - facts.Plant.Today.DayNumber) switch
    {
        0 => "today",
        1 => "tomorrow",
        < 0 => "was due " + day.ToString("ddd MMM d", CultureInfo.InvariantCulture),
        _ => day.ToString("ddd MMM d", CultureInfo.InvariantCulture),
    };
}
