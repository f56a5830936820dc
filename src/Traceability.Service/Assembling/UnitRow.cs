using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;

namespace Traceability.Service.Assembling;

/// <summary>How far a unit has come, in the words of the board.</summary>
public enum UnitPhase { Unknown, Scheduled, Tied, Inspected, Poured, Stripped, Shipped }

public sealed record HoldRow(HoldKind Kind, HoldState State, int OpenItems, bool NeedsRelease, bool Contradicted);

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
    public string? Contract { get; init; }
    public string? Drawing { get; init; }
    public string? Revision { get; init; }
    public string? Mix { get; init; }
    public string? Form { get; init; }
    public DateOnly? PourOn { get; init; }
    public required UnitPhase Phase { get; init; }

    /// <summary>Order of assembling when many are stale: 0 about to pour, 1 held, 2 the rest, 3 shipped.</summary>
    public required short Priority { get; init; }

    /// <summary>Whether the board has to look at it: 0 in the plant, 1 shipped with something still awaited or not met, 2 neither.</summary>
    public short Watch { get; init; }

    public required IReadOnlyList<HoldRow> Holds { get; init; }

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
        var phase = file.Last<UnitShipped>() is not null ? UnitPhase.Shipped
            : file.Last<UnitStripped>() is not null ? UnitPhase.Stripped
            : file.Placements.Any() ? UnitPhase.Poured
            : file.Last<PrePourInspected>() is not null || file.Last<CloseUpInspected>() is not null ? UnitPhase.Inspected
            : file.Cage is not null ? UnitPhase.Tied
            : scheduled is not null ? UnitPhase.Scheduled
            : UnitPhase.Unknown;
        var breaks = file.Of<CylinderBroken>().ToDictionary(b => b.Id, b => b.Fact.Sample);
        var open = judgement.Findings.Where(f => !f.Allows)
            .Select(f => new OpenRow(f.Hold, f.Requirement, f.Title, f.Subject, f.Verdict, f.Reason, f.Clear, f.Limit, f.Observed, f.Used.Select(u => breaks.GetValueOrDefault(u)).FirstOrDefault(b => b is not null))).ToList();
        var cylinders = CylindersOf(file).ToList();
        var next = NextHold(phase);
        return new UnitRow
        {
            Id = file.Unit.Id,
            Mark = file.Assigned?.Mark ?? scheduled?.Mark,
            Contract = file.Assigned?.Contract,
            Drawing = scheduled?.Drawing,
            Revision = scheduled?.Revision,
            Mix = scheduled?.Mix,
            Form = scheduled?.Form,
            PourOn = scheduled?.PourOn,
            Phase = phase,
            Priority = phase switch
            {
                UnitPhase.Inspected => 0,
                UnitPhase.Shipped => 3,
                _ => (short)(judgement.Holds.Any(h => h.State == HoldState.Held) ? 1 : 2),
            },
            Watch = (short)(phase != UnitPhase.Shipped ? 0 : open.Exists(o => o.Verdict == Verdict.NotMet) || cylinders.Exists(c => c is { Broken: false, DueAt: not null }) ? 1 : 2),
            Holds = [.. judgement.Holds.Select(h => new HoldRow(h.Kind, h.State, h.OpenItems.Count, h.NeedsRelease, h.Contradicted))],
            OpenItems = next is { } kind ? judgement.Hold(kind).OpenItems : [],
            Open = open,
            Cylinders = cylinders,
            PouredAt = file.Placements.Select(p => (DateTimeOffset?)p.Pour.Fact.StartedAt).Min(),
            Place = PlaceOf(file),
            OnlyPossible = [.. file.OnlyPossible.Select(s => s.Key).Order(StringComparer.Ordinal)],
            Reached = [.. file.Reached.Select(s => s.Key).Order(StringComparer.Ordinal)],
            JudgementHash = judgement.Hash,
            RulesVersion = judgement.RulesVersion,
            Position = position,
            JudgedAt = at,
            ValidUntil = judgement.ValidUntil,
        };
    }

    /// <summary>The hold before the next step; null when the unit has left.</summary>
    public static HoldKind? NextHold(UnitPhase phase) => phase switch
    {
        UnitPhase.Shipped => null,
        UnitPhase.Stripped => HoldKind.Ship,
        UnitPhase.Poured => HoldKind.Strip,
        _ => HoldKind.Pour,
    };

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

    private static string? PlaceOf(UnitFile file) =>
        file.Last<UnitShipped>() is { } shipped ? $"shipped to {shipped.Fact.Destination}, truck {shipped.Fact.Truck}, delivery {shipped.Fact.Delivery}"
        : file.Last<UnitStripped>() is { } stripped ? stripped.Fact.StoredAt is { } stored ? $"yard, {stored}" : "yard, place not recorded"
        : file.Placements.Any() || file.Last<CloseUpInspected>() is not null ? $"form {file.Last<CloseUpInspected>()?.Fact.Form ?? file.Scheduled?.Fact.Form ?? "not recorded"}"
        : null;
}

/// <summary>A cylinder of a unit's sample and whether it has been broken.</summary>
public sealed record CylinderRow(string Sample, string Cylinder, CylinderPurpose Purpose, DateTimeOffset MouldedAt, bool Broken)
{
    /// <summary>When it reaches the age its profile asks for; null when no age is set for its purpose.</summary>
    public DateTimeOffset? DueAt { get; init; }

    /// <summary>Permissible tolerance of that age either way, hours.</summary>
    public decimal? WindowHours { get; init; }
}
