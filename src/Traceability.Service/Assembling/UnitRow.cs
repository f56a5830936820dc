using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;

namespace Traceability.Service.Assembling;

/// <summary>How far a unit has come, in the words of the board.</summary>
public enum UnitPhase { Unknown, Scheduled, Tied, Inspected, Poured, Stripped, Shipped }

public sealed record HoldRow(HoldKind Kind, HoldState State, int OpenItems, bool NeedsRelease, bool Contradicted);

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

    public required IReadOnlyList<HoldRow> Holds { get; init; }
    public required IReadOnlyList<OpenItem> OpenItems { get; init; }
    public required IReadOnlyList<CylinderRow> Cylinders { get; init; }
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
        var next = phase switch
        {
            UnitPhase.Shipped => (HoldKind?)null,
            UnitPhase.Stripped => HoldKind.Ship,
            UnitPhase.Poured => HoldKind.Strip,
            _ => HoldKind.Pour,
        };
        return new UnitRow
        {
            Id = file.Unit.Id,
            Mark = scheduled?.Mark,
            Contract = scheduled?.Contract,
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
            Holds = [.. judgement.Holds.Select(h => new HoldRow(h.Kind, h.State, h.OpenItems.Count, h.NeedsRelease, h.Contradicted))],
            OpenItems = next is { } kind ? judgement.Hold(kind).OpenItems : [],
            Cylinders = [.. file.Samples.SelectMany(s => s.Fact.Cylinders.Select(c => new CylinderRow(s.Fact.Sample, c.Cylinder, c.Purpose, s.Fact.MouldedAt,
                file.Of<CylinderBroken>().Any(b => b.Fact.Sample == s.Fact.Sample && b.Fact.Cylinder == c.Cylinder))))],
            JudgementHash = judgement.Hash,
            RulesVersion = judgement.RulesVersion,
            Position = position,
            JudgedAt = at,
            ValidUntil = judgement.ValidUntil,
        };
    }
}

/// <summary>A cylinder of a unit's sample and whether it has been broken.</summary>
public sealed record CylinderRow(string Sample, string Cylinder, CylinderPurpose Purpose, DateTimeOffset MouldedAt, bool Broken);
