using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.Service.People;
using Traceability.Service.Recording;

namespace Traceability.Service.Decisions;

/// <summary>A release that was written.</summary>
public sealed record Released(string Unit, HoldKind Hold, Guid Release, long? Position, RestsOn Basis, ReleaseScope? Scope, DateTimeOffset? ValidUntil);

/// <summary>
/// Releases a hold that is ready, for what is there now (drawing revision, cage, form, heats) and for as long as the
/// profile's rule of the hold says; undoes a release whose step was not taken.
/// </summary>
public sealed class Releases(DecisionRoom room, Register register)
{
    private const int MostHeats = 400;

    public Task<Decided> ReleaseAsync(string unit, string? hold, string person, string? pin, string? note, CancellationToken cancel)
    {
        if (Wrong(unit, hold, out var kind) is { } wrong) return Task.FromResult(wrong);
        if (note is { Length: > 500 }) return Task.FromResult(Decided.Wrong("note", "must be at most 500 characters", "Shorten it."));
        return room.SitAsync(person, pin, sitting => DecideAsync(sitting, Subject.Unit(unit), kind, note, cancel), cancel);
    }

    public Task<Decided> UndoAsync(string unit, string? hold, string person, string? pin, string? reason, CancellationToken cancel)
    {
        if (Wrong(unit, hold, out var kind) is { } wrong) return Task.FromResult(wrong);
        if (reason?.Trim() is not { Length: > 0 and <= 500 } why) return Task.FromResult(Decided.Wrong("reason", "must be a text of 1 to 500 characters", "Say why the release does not stand."));
        return room.SitAsync(person, pin, async sitting =>
        {
            var judged = await sitting.JudgeAsync(Subject.Unit(unit), cancel);
            if (judged.Hold(kind) is not { Release: { } release, State: HoldState.Released or HoldState.Overridden } state) return Decided.Refused(409, "not-released", "There is no release to undo", $"Unit {unit}: no release of the {Words(kind)} hold stands.");
            if (release == state.AgencyRelease) return Decided.Refused(409, "agency-released", "The agency released it", $"Unit {unit}: the {Words(kind)} hold was released by the agency, record {release}. The plant does not undo that.");
            if (state.Step is { } step) return Decided.Refused(409, "step-taken", "The step was taken", $"Unit {unit}: the step after the {Words(kind)} hold was taken on this release, record {step}. Raise a nonconformance instead.");
            var written = await sitting.WriteAsync(new ReleaseUndone(unit, kind, release, why), cancel);
            return new(new { unit, hold = kind, undone = release, record = written.RecordId, position = written.Position }, null);
        }, cancel);
    }

    /// <summary>The holds of which a release can be written.</summary>
    public static bool HasRelease(HoldKind kind) => kind is HoldKind.Tying or HoldKind.CloseUp or HoldKind.Pour or HoldKind.Strip or HoldKind.Ship;

    internal static Decided? Wrong(string? unit, string? hold, out HoldKind kind)
    {
        kind = default;
        if (!Subject.IsId(unit, "unit")) return Decided.Wrong("unit", "must be a unit's serial", "Use the serial as marked.");
        if (Enum.TryParse(hold?.Replace("-", "", StringComparison.Ordinal), ignoreCase: true, out kind) && !int.TryParse(hold, out _) && HasRelease(kind)) return null;
        return Decided.Wrong("hold", "must be tying, close-up, pour, strip or ship", "Name the hold.");
    }

    internal static string Words(HoldKind kind) => kind == HoldKind.CloseUp ? "close-up" : kind.ToString().ToLowerInvariant();

    internal static (string Key, object? Value)[] OpenItems(JudgedUnit judged, Hold hold) =>
    [
        ("state", hold.State.ToString()), ("position", judged.Dossier.Position),
        ("openItems", hold.OpenItems.Select(o => new { requirement = o.Requirement, subject = o.Subject, verdict = o.Verdict.ToString(), reason = o.Reason, clear = o.Clear }).ToList()),
    ];

    private async Task<Decided> DecideAsync(Sitting sitting, Subject unit, HoldKind kind, string? note, CancellationToken cancel)
    {
        var judged = await sitting.JudgeAsync(unit, cancel);
        if (judged.Hold(kind) is not { } hold) return Decided.Refused(409, "no-such-hold", "Nothing feeds this hold", $"Unit {unit.Id}: no requirement of these rules feeds the {Words(kind)} hold.");
        if (hold.ReleaseRole is { } only && !register.Person(sitting.Person)!.Roles.Contains(only))
            return Decided.Refused(403, "who-may", "Another role releases this hold", $"Profile {judged.Judgement.Profile}: the {Words(kind)} hold is released by the {only.Replace('-', ' ')}.");
        if (hold.State == HoldState.Released)
            return Decided.Refused(409, "already-released", "Already released", $"Unit {unit.Id}: the {Words(kind)} hold was released by record {hold.Release}.");
        if (!hold.MayBeReleased)
        {
            return Decided.Refused(409, "hold-not-ready", "Not released yet",
                $"Unit {unit.Id}: {(hold.Step is { } step ? $"the step was taken already, record {step}; a release now fixes nothing" : hold.OpenItems.Count > 0 ? $"{hold.OpenItems.Count} items stand in the way of the {Words(kind)} as of log position {judged.Dossier.Position}" : hold.Cause ?? $"the {Words(kind)} hold is {hold.State.ToString().ToLowerInvariant()}")}.",
                OpenItems(judged, hold)) with { OpenItems = hold.OpenItems };
        }

        var basis = await sitting.RestOnAsync(judged, cancel);
        var scope = ScopeOf(judged);
        var until = judged.Rule(kind)?.ValidHours is { } hours ? sitting.Now + TimeSpan.FromTicks((long)(hours.Value * TimeSpan.TicksPerHour)) : (DateTimeOffset?)null;
        IFact fact = kind switch
        {
            HoldKind.Tying => new TyingReleased(unit.Id, basis, note, scope, until),
            HoldKind.CloseUp => new CloseUpReleased(unit.Id, basis, note, scope, until),
            HoldKind.Pour => new PourReleased(unit.Id, basis, note, scope, until),
            HoldKind.Strip => new StripReleased(unit.Id, basis, note, scope, until),
            _ => new ShipReleased(unit.Id, basis, note, scope, until),
        };
        var written = await sitting.WriteAsync(fact, cancel);
        return new(new Released(unit.Id, kind, written.RecordId, written.Position, RestsOn.Of(basis), scope, until), null);
    }

    // What is there at this moment: when one of these is another, the release does not cover it.
    private static ReleaseScope ScopeOf(JudgedUnit judged)
    {
        var file = judged.File;
        var cage = file.Cage?.Fact;
        var form = file.Entries.Where(e => e.Fact.About == file.Unit)
            .Select(e => e.Fact switch { CloseUpInspected c => c.Form, PrePourInspected p => p.Form, CageSet s => s.Form, FormClosed f => f.Form, _ => null }).LastOrDefault(f => f is not null);
        var heats = cage?.Bars.SelectMany(b => b.Lots).Distinct().OrderBy(h => h.Producer, StringComparer.Ordinal).ThenBy(h => h.Number, StringComparer.Ordinal).Take(MostHeats).ToList();
        return new(file.Scheduled?.Fact.Revision, cage?.Cage, form ?? file.Scheduled?.Fact.Form, heats);
    }
}
