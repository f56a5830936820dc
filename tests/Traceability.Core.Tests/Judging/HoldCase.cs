using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Record = Traceability.Core.Records.Record;

namespace Traceability.Core.Tests.Judging;

/// <summary>What the tests of holds add to a case: rules of holds, releases, overrides, and times by the pour.</summary>
internal static class HoldCase
{
    public static readonly DecisionBasis Basis = new(1, new string('a', 64), "2026.2");

    /// <summary>Everything up to the first batch: the pour hold is ready, nothing is released.</summary>
    public static UnitCase BeforePour { get; } = UnitCase.Good.Before<BatchTicketed>();

    /// <summary>When the first concrete went into the unit.</summary>
    public static DateTimeOffset Pour { get; } = UnitCase.Good.The<PourPlaced>().StartedAt;

    public static DateTimeOffset Shipped { get; } = UnitCase.Good.RecordOf<UnitShipped>().OccurredAt.At;

    public static UnitCase Under(this UnitCase unit, params HoldRule[] rules) => unit.Change<ProfilePublished>(p => p with { Holds = rules });

    public static UnitCase PourRule(this UnitCase unit, HoldAuthority authority = HoldAuthority.Plant, decimal? validHours = null, decimal? noticeHours = null, params ExpiryCause[] expires) =>
        unit.Under(new HoldRule(HoldKind.Pour, authority, validHours is { } v ? UnitCase.R(v.ToString(System.Globalization.CultureInfo.InvariantCulture)) : null, expires,
            noticeHours is { } n ? UnitCase.R(n.ToString(System.Globalization.CultureInfo.InvariantCulture)) : null));

    public static UnitCase Release(this UnitCase unit, double hoursFromPour, ReleaseScope? scope = null, DateTimeOffset? until = null, string id = "release-1") =>
        unit.Add(new PourReleased(UnitCase.Unit, Basis, null, scope, until), Pour.AddHours(hoursFromPour), "p-102", id: id);

    public static Guid ReleaseId(this UnitCase unit, string id = "release-1") => unit.Records.Last(r => r.Sent.Id == id).Id;

    public static UnitCase At(this UnitCase unit, IFact fact, double hoursFromPour, string person = "p-101") => unit.Add(fact, Pour.AddHours(hoursFromPour), person);

    public static UnitCase Now(this UnitCase unit, double hoursFromPour) => unit.AsOf(Pour.AddHours(hoursFromPour));

    public static Hold Hold(this UnitCase unit, HoldKind kind = HoldKind.Pour) => unit.Judge().Hold(kind);

    public static HoldState State(this UnitCase unit, HoldKind kind = HoldKind.Pour) => unit.Hold(kind).State;

    /// <summary>The same records with the pour in them: the step is taken.</summary>
    public static UnitCase Poured(this UnitCase unit) =>
        new([.. unit.Records, .. UnitCase.Good.Records.Where(r => unit.Records.All(o => o.Sent.Id != r.Sent.Id || o.Sent.Source != r.Sent.Source))], UnitCase.Good.At);

    public static UnitCase Override(this UnitCase unit, HoldKind kind, double hoursFromPour, string person = "p-101", string second = "p-102", bool breach = false, IReadOnlyList<string>? items = null) =>
        unit.At(new HoldOverridden(UnitCase.Unit, kind, "the crane leaves at noon", second, items ?? [.. unit.Hold(kind).OpenItems.Select(Traceability.Core.Judging.Holds.Overrides.Key)], breach, Basis), hoursFromPour, person);

    public static IEnumerable<AlarmKind> Alarms(this Hold hold) => hold.Alarms.Select(a => a.Kind);
}
