using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Judging.Holds;
using Traceability.Core.Records;

namespace Traceability.Service.Decisions;

/// <summary>An override that was written.</summary>
/// <param name="Why">Why it is a breach; null when it is none.</param>
public sealed record OverrideWritten(string Unit, HoldKind Hold, Guid Override, long? Position, RestsOn Basis, bool Breach, string? Why, IReadOnlyList<string> OpenItems);

/// <summary>
/// Overrides a plant hold: the quality engineer with a reason, and a second approver who is not of production, both with their
/// PINs at this moment. Over an agency's hold, a lifting check or domestic steel nobody may go: there it is recorded as a
/// breach, which opens nothing.
/// </summary>
public sealed class Overriding(DecisionRoom room)
{
    private const int MostItems = 400, LongestItem = 300;

    public Task<Decided> OverrideAsync(string unit, string? hold, string person, string? pin, string? reason, string? second, string? secondPin, CancellationToken cancel)
    {
        if (Releases.Wrong(unit, hold, out var kind) is { } wrong) return Task.FromResult(wrong);
        if (reason?.Trim() is not { Length: > 0 and <= 1000 } why) return Task.FromResult(Decided.Wrong("reason", "must be a text of 1 to 1000 characters", "Say why the work may go on although the hold is held."));
        return room.SitAsync(person, pin, async sitting =>
        {
            var judged = await sitting.JudgeAsync(Subject.Unit(unit), cancel);
            if (!judged.IsKnown || judged.Hold(kind) is not { } state) return Decided.Refused(404, "unit-unknown", "No record bears on this unit", $"'{unit}' is not a serial that any record names. Check the mark on the piece.");
            if (state.OpenItems.Count == 0) return Decided.Refused(409, "nothing-to-override", "Nothing stands in the way", $"Unit {unit}: the {Releases.Words(kind)} hold has no open item. Release it.");
            if (await PartsInUnits.FirstAsync(sitting.Connection, [judged.Dossier.Unit], second!, cancel) is { } part) return new(null, PartsInUnits.Refusal(second!, part));
            var none = WhyNone(state);
            var basis = await sitting.RestOnAsync(judged, cancel);
            var items = state.OpenItems.Select(Overrides.Key).Distinct(StringComparer.Ordinal).Select(i => i.Length > LongestItem ? i[..LongestItem] : i).Take(MostItems).ToList();
            var written = await sitting.WriteAsync(new HoldOverridden(unit, kind, why, second!, items, none is not null, basis), cancel);
            return new(new OverrideWritten(unit, kind, written.RecordId, written.Position, RestsOn.Of(basis), none is not null, none is null ? null : $"Recorded as a breach, and it opens nothing: {none}.", items), null);
        }, cancel, new Approval(second, secondPin));
    }

    /// <summary>Why no override opens this hold; null when one may.</summary>
    public static string? WhyNone(Hold hold) =>
        hold.Authority == HoldAuthority.AgencyHold ? "the hold is the agency's"
        : hold.OpenItems.FirstOrDefault(o => Overrides.None(o.Requirement)) is { } item ? $"nobody may override {Overrides.Key(item)}"
        : null;
}
