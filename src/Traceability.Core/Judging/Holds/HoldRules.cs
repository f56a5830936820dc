using System.Globalization;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;

namespace Traceability.Core.Judging.Holds;

/// <summary>The profile's rule of a hold, and the words of holds.</summary>
internal static class HoldRules
{
    /// <summary>The rule of a hold; null for a plant hold without expiry. Of two the one with the stronger authority holds.</summary>
    public static HoldRule? Of(Matter matter, HoldKind kind) =>
        matter.Profile?.Fact.Holds?.Where(h => h.Hold == kind).MaxBy(h => h.Authority);

    /// <summary>The unit was rejected, by the plant or by the agency; null when it was not. The first rejection.</summary>
    public static Entry? Rejection(UnitFile file) => file.Entries.FirstOrDefault(e => e.Fact is UnitRejected or AgencyRejected);

    public static Citation Source(Matter matter, HoldRule? rule) =>
        new(rule?.Source ?? $"Profile {matter.Profile?.Fact.About.Id ?? "of the contract"}, who acts at a hold", SourceMark.Recorded);

    public static string Words(HoldKind kind) => kind switch
    {
        HoldKind.CloseUp => "close-up",
        HoldKind.Place => "placing",
        HoldKind.Strip => "stripping",
        HoldKind.Ship => "shipment",
        _ => kind.ToString().ToLowerInvariant(),
    };

    public static string Time(DateTimeOffset at) => at.ToString("yyyy-MM-dd HH:mm zzz", CultureInfo.InvariantCulture);
}
