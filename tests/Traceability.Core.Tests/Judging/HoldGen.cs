using CsCheck;
using Traceability.Core.Events;
using Traceability.Core.Records;
using static Traceability.Core.Tests.Judging.HoldCase;
using static Traceability.Core.Tests.Judging.UnitCase;

namespace Traceability.Core.Tests.Judging;

/// <summary>
/// One unit with rules of holds and whatever decides, ends, waives or accepts, at random: releases, overrides, undoings, the
/// agency's acts, notices, rain, moved cages, quarantines, revisions, letters, returns and rejections.
/// </summary>
internal static class HoldGen
{
    private const string Tight = "pour.form-tight", Source = "/test/decisions";

    public sealed record Case(UnitCase Unit, IReadOnlyList<Guid> Favourable)
    {
        public UnitCase Without(Guid record) => Unit with { Records = [.. Unit.Records.Where(r => r.Id != record)] };

        public override string ToString() => string.Join("; ", Unit.Records.Where(r => r.Sent.Id.StartsWith("h-", StringComparison.Ordinal)).Select(r => $"{r.Sent.Id} {r.Type} {(r.OccurredAt.At - Pour).TotalHours:0.###} h {r.Sent.Data.GetRawText()}"));
    }

    private static readonly IReadOnlyList<UnitCase> s_bases =
    [
        BeforePour, BeforePour.Change<PrePourInspected>(p => p with { FormTight = false }), Good, Good.Change<PrePourInspected>(p => p with { FormTight = false }), Good.Without<UnitShipped>(),
    ];

    // Half hours, and now and then a second beside one, so that the clocks cannot tell.
    private static readonly Gen<DateTimeOffset> s_time = Gen.Select(Gen.Int[-60, 40], Gen.Int[0, 8]).Select((halves, near) => Pour.AddHours(near == 8 ? 0 : halves / 2.0).AddSeconds(near is 0 or 8 ? 1 : 0));

    private static readonly Gen<HoldRule> s_rule = Gen.Select(Gen.Int[0, 1], Gen.Int[0, 2], Gen.Int[0, 2], Gen.Int[0, 15]).Select((hold, authority, hours, causes) => new HoldRule(
        hold == 0 ? HoldKind.Pour : HoldKind.Ship, (HoldAuthority)authority, hours == 0 ? null : R((hours * 9).ToString(System.Globalization.CultureInfo.InvariantCulture)),
        [.. Enum.GetValues<ExpiryCause>().Where(c => (causes & (1 << (int)c)) != 0)], R("12")));

    private static readonly Gen<(int Kind, DateTimeOffset At, DateTimeOffset Other, int Pick)> s_act = Gen.Select(Gen.Int[0, 18], s_time, s_time, Gen.Int[0, 7]);

    public static readonly Gen<Case> All = Gen.Select(Gen.Int[0, s_bases.Count - 1], s_rule.Array[0, 2], s_act.Array[0, 9], s_time).Select((which, rules, acts, at) =>
    {
        var unit = s_bases[which].Under([.. rules.DistinctBy(r => r.Hold)]).AsOf(at);
        var favourable = new List<Guid>();
        for (var i = 0; i < acts.Length; i++)
        {
            var (kind, time, other, pick) = acts[i];
            var id = $"h-{i}";
            unit = unit.Add(Fact(kind, time, other, pick, i), time, pick == 5 ? "p-102" : "p-101", pick % 2 == 0 ? Source : "/test/another", id);
            if (kind <= 10) favourable.Add(RecordId.Of(pick % 2 == 0 ? Source : "/test/another", id));
        }

        return new Case(unit, favourable);
    });

    private static IFact Fact(int kind, DateTimeOffset at, DateTimeOffset other, int pick, int i)
    {
        var (from, until) = at < other ? (at, other) : (other, at);
        var hold = pick < 5 ? HoldKind.Pour : HoldKind.Ship;
        var cage = Good.The<CageTied>();
        return kind switch
        {
            0 => new PourReleased(Unit, Basis, null, Scope(pick), pick % 3 == 0 ? other : null),
            1 => new ShipReleased(Unit, Basis, null, Scope(pick), pick % 3 == 0 ? other : null),
            2 => new HoldOverridden(Unit, hold, "wanted", "p-102", pick % 2 == 0 ? [$"{Tight} unit:{Unit}{(pick == 2 ? "" : " (not met)")}"] : [], pick == 3, Basis),
            3 => new AgencyHoldReleased(Unit, hold, null, pick % 2 == 0 ? other : null),
            4 => new AgencyWaived([Unit], hold, from, until, "L-1"),
            5 => new AgencyWaived([Unit], hold, from, until, "L-2", Tight),
            6 => new NoticeGiven([Unit], hold, other, "message"),
            7 => new AgencyPresent([Unit], hold),
            8 => new AgencyAccepted(Unit, [new AcceptedFinding(Tight)], "L-3", new DateOnly(2026, 3, 6)),
            9 => new NonconformanceApproved("NC-1", (Approver)(pick % 3), "L-4", other, [new AcceptedFinding(Tight)]),
            10 => new LotCleared(cage.Bars[0].Lots[0], "in order", "letter"),
            11 => new ReleaseUndone(Unit, hold, RecordId.Of(pick % 2 == 0 ? Source : "/test/another", $"h-{(i + pick) % 9}"), "wrong unit"),
            12 => new WeatherRead([Unit], R("50"), pick < 6),
            13 => pick % 2 == 0 ? new CageMoved(cage.Cage, "bay 2") : new CageSwapped(Unit, cage.Cage, "CG-OTHER", "bent"),
            14 => new LotQuarantined(cage.Bars[0].Lots[0], "asked back"),
            15 => new DrawingSuperseded(cage.Drawing, cage.Revision, other, "lifters", "Z"),
            16 => pick % 2 == 0 ? new NonconformanceRaised("NC-1", [Unit], NonconformanceClass.Minor, pick == 2, "leaked", Tight) : new NonconformanceDisposed("NC-1", (DispositionKind)(pick % 4), "as is"),
            17 => new UnitReturned(Unit, "chipped", "bay 1"),
            _ => pick == 0 ? new UnitRejected(Unit, "dropped") : new UnitStored(Unit, "row 1", true),
        };
    }

    private static ReleaseScope? Scope(int pick) => pick switch
    {
        1 => new ReleaseScope(Good.The<UnitScheduled>().Revision, Good.The<CageTied>().Cage),
        2 => new ReleaseScope("Z"),
        _ => null,
    };
}
