using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;

namespace Traceability.Service.Assembling;

public sealed record HoldRow(HoldKind Kind, HoldState State, int OpenItems, bool NeedsRelease, bool Contradicted)
{
    public HoldAuthority Authority { get; init; }

    /// <summary>When time ends its release; null when it does not.</summary>
    public DateTimeOffset? ValidUntil { get; init; }

    /// <summary>Why it is not simply held, ready or released; null when there is nothing to say.</summary>
    public string? Cause { get; init; }
}

/// <summary>An alarm of one of the unit's holds.</summary>
public sealed record AlarmRow(HoldKind Hold, AlarmKind Kind, string Words);

/// <summary>A finding that does not allow the step, of any hold of the unit.</summary>
/// <param name="Limit">The limit as printed; empty when the requirement has none.</param>
/// <param name="Sample">The sample whose broken cylinders it rests on; null when it rests on none.</param>
public sealed record OpenRow(HoldKind Hold, string Requirement, string Title, string Subject, Verdict Verdict, string Reason, string Clear, string Limit = "", string Observed = "", string? Sample = null);

/// <summary>
/// The asynchronous view of one unit: what the board reads. It may lag; no decision reads it.
/// </summary>
public sealed record UnitRow
{
    /// <summary>The unit's serial.</summary>
    public required string Id { get; init; }
    public string? Mark { get; init; }
    /// <summary>The agency it belongs to; null where none is recorded.</summary>
    public string? Agency { get; init; }

    public string? Contract { get; init; }
    public string? Drawing { get; init; }
    public string? Revision { get; init; }
    public string? Mix { get; init; }
    public string? Form { get; init; }
    public DateOnly? PourOn { get; init; }
    public required UnitPhase Phase { get; init; }

    /// <summary>Order of assembling when many are stale: 0 about to pour, 1 held, 2 the rest, 3 shipped.</summary>
    public required short Priority { get; init; }

    /// <summary>Whether the board has to look at it: 0 in the plant, 1 gone with something still awaited, not met or alarmed, 2 neither.</summary>
    public short Watch { get; init; }

    public required IReadOnlyList<HoldRow> Holds { get; init; }

    public IReadOnlyList<AlarmRow> Alarms { get; init; } = [];

    /// <summary>Its nonconformances that somebody has still to act on, and those whose repair began too early.</summary>
    public IReadOnlyList<NonconformanceState> Nonconformances { get; init; } = [];

    /// <summary>Why it was rejected and by whom; null when it was not.</summary>
    public string? Rejection { get; init; }

    /// <summary>Cast without a contract and not allocated yet.</summary>
    public bool IsStock { get; init; }

    /// <summary>The rejected unit that it was cast for again.</summary>
    public string? InPlaceOf { get; init; }

    /// <summary>The unit that was cast in its place.</summary>
    public string? RecastAs { get; init; }

    /// <summary>What stands in the way of the next step.</summary>
    public required IReadOnlyList<OpenItem> OpenItems { get; init; }

    /// <summary>Every finding that does not allow its step, earlier and later holds included.</summary>
    public IReadOnlyList<OpenRow> Open { get; init; } = [];

    public required IReadOnlyList<CylinderRow> Cylinders { get; init; }

    /// <summary>When its first concrete was placed.</summary>
    public DateTimeOffset? PouredAt { get; init; }

    /// <summary>Where it was seen last, in the words of the record.</summary>
    public string? Place { get; init; }

    /// <summary>Keys of everything it is made from, was judged by and is governed by, after corrections.</summary>
    public IReadOnlyList<string> Reached { get; init; } = [];

    /// <summary>Those of them reached only through a storage: they may be in it, they need not.</summary>
    public IReadOnlyList<string> OnlyPossible { get; init; } = [];

    public required string JudgementHash { get; init; }
    public required string RulesVersion { get; init; }
    public required long Position { get; init; }
    public required DateTimeOffset JudgedAt { get; init; }
    public DateTimeOffset? ValidUntil { get; init; }

    public static UnitRow Of(UnitFile file, Judgement judgement, long position, DateTimeOffset at)
    {
        var scheduled = file.Scheduled?.Fact;
        var state = UnitState.Of(file);
        var phase = state.Phase;
        var breaks = file.Of<CylinderBroken>().ToDictionary(b => b.Id, b => b.Fact.Sample);
        var open = judgement.Findings.Where(f => !f.Allows)
            .Select(f => new OpenRow(f.Hold, f.Requirement, f.Title, f.Subject, f.Verdict, f.Reason, f.Clear, f.Limit, f.Observed, f.Used.Select(u => breaks.GetValueOrDefault(u)).FirstOrDefault(b => b is not null))).ToList();
        var cylinders = CylindersOf(file).ToList();
        var nonconformances = NonconformanceState.Of(file).Where(n => n.Awaited != Awaited.Nothing || n.RepairTooEarly).ToList();
        var next = UnitState.NextHold(phase);
        return new UnitRow
        {
            Id = file.Unit.Id,
            Mark = file.Assigned?.Mark ?? scheduled?.Mark,
            Contract = file.Assigned?.Contract,
            Agency = Core.People.Agencies.Of(file),
            Drawing = scheduled?.Drawing,
            Revision = scheduled?.Revision,
            Mix = scheduled?.Mix,
            Form = scheduled?.Form,
            PourOn = scheduled?.PourOn,
            Phase = phase,
            Priority = phase switch
            {
                UnitPhase.Inspected => 0,
                _ when UnitState.IsOver(phase) => 3,
                _ => (short)(judgement.Holds.Any(h => h.State == HoldState.Held) ? 1 : 2),
            },
            Watch = !UnitState.IsOver(phase) ? (short)0 : Asks(phase, open, cylinders, nonconformances, judgement) ? (short)1 : (short)2,
            Holds = [.. judgement.Holds.Select(h => new HoldRow(h.Kind, h.State, h.OpenItems.Count, h.NeedsRelease, h.Contradicted) { Authority = h.Authority, ValidUntil = h.ValidUntil, Cause = h.Cause })],
            Alarms = [.. judgement.Alarms.Select(a => new AlarmRow(a.Hold, a.Alarm.Kind, a.Alarm.Words))],
            Nonconformances = nonconformances,
            Rejection = state.Rejection,
            IsStock = state.IsStock,
            InPlaceOf = state.InPlaceOf,
            RecastAs = state.RecastAs,
            OpenItems = next is { } kind ? judgement.Hold(kind).OpenItems : [],
            Open = open,
            Cylinders = cylinders,
            PouredAt = file.Placements.Select(p => (DateTimeOffset?)p.Pour.Fact.StartedAt).Min(),
            Place = state.Place,
            OnlyPossible = [.. file.OnlyPossible.Select(s => s.Key).Order(StringComparer.Ordinal)],
            Reached = [.. file.Reached.Select(s => s.Key).Order(StringComparer.Ordinal)],
            JudgementHash = judgement.Hash,
            RulesVersion = judgement.RulesVersion,
            Position = position,
            JudgedAt = at,
            ValidUntil = judgement.ValidUntil,
        };
    }

    // Of what is gone the board still has to hear.
    private static bool Asks(UnitPhase phase, List<OpenRow> open, List<CylinderRow> cylinders, List<NonconformanceState> nonconformances, Judgement judgement) =>
        nonconformances.Exists(n => n.Awaited != Awaited.Nothing)
        || (UnitState.HasLeft(phase) && (open.Exists(o => o.Verdict == Verdict.NotMet) || cylinders.Exists(c => c is { Broken: false, DueAt: not null }) || judgement.Hold(HoldKind.Ship).Alarms.Count > 0));

    // Only the acceptance age stands in the profile; strip and ship sets are broken when the crew asks.
    private static IEnumerable<CylinderRow> CylindersOf(UnitFile file)
    {
        var limits = (file.Profile?.Fact.Limits ?? []).ToDictionary(l => l.Key, l => l.Value.Value, StringComparer.Ordinal);
        var broken = file.Of<CylinderBroken>().Select(b => (b.Fact.Sample, b.Fact.Cylinder)).ToHashSet();
        foreach (var sample in file.Samples)
        {
            foreach (var cylinder in sample.Fact.Cylinders)
            {
                var due = cylinder.Purpose == CylinderPurpose.Acceptance && limits.TryGetValue("acceptance.age", out var days)
                    ? sample.Fact.MouldedAt.AddDays((double)days) : (DateTimeOffset?)null;
                yield return new CylinderRow(sample.Fact.Sample, cylinder.Cylinder, cylinder.Purpose, sample.Fact.MouldedAt, broken.Contains((sample.Fact.Sample, cylinder.Cylinder)))
                {
                    DueAt = due,
                    WindowHours = due is null || !limits.TryGetValue("cylinder.age-window", out var hours) ? null : hours,
                };
            }
        }
    }
}

/// <summary>A cylinder of a unit's sample and whether it has been broken.</summary>
public sealed record CylinderRow(string Sample, string Cylinder, CylinderPurpose Purpose, DateTimeOffset MouldedAt, bool Broken)
{
    /// <summary>When it reaches the age its profile asks for; null when no age is set for its purpose.</summary>
    public DateTimeOffset? DueAt { get; init; }

    /// <summary>Permissible tolerance of that age either way, hours.</summary>
    public decimal? WindowHours { get; init; }
}
