using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.Dossiers;

/// <summary>How far a unit has come. The last four end it, unless it comes back.</summary>
public enum UnitPhase
{
    Unknown,
    Scheduled,
    /// <summary>Its cage is tied.</summary>
    Tied,
    /// <summary>In the form and inspected.</summary>
    Inspected,
    Poured,
    /// <summary>Out of the form.</summary>
    Stripped,
    /// <summary>Set down at a place of the yard.</summary>
    InYard,
    /// <summary>On a truck that has not left.</summary>
    Loaded,
    /// <summary>Back in the plant after it was shipped.</summary>
    Returned,
    Shipped,
    Delivered,
    Rejected,
    Disposed,
}

/// <summary>Where a unit is and what became of it, as its records say. Pure, and independent of the order they arrived in.</summary>
/// <param name="Place">Where it was seen last, in the words of the record; null while it is nowhere yet.</param>
/// <param name="Rejection">Why it was rejected and by whom; null when it was not.</param>
/// <param name="IsStock">Cast without a contract and not allocated yet.</param>
/// <param name="InPlaceOf">The rejected unit that it was cast for again; null when none.</param>
/// <param name="RecastAs">The unit that was cast in its place; null when none is recorded.</param>
public sealed record UnitState(UnitPhase Phase, string? Place, string? Rejection, bool IsStock, string? InPlaceOf, string? RecastAs)
{
    /// <summary>Whether it is out of the plant for good, as far as is known.</summary>
    public static bool HasLeft(UnitPhase phase) => phase is UnitPhase.Shipped or UnitPhase.Delivered;

    /// <summary>Whether nothing is done to it any more.</summary>
    public static bool IsOver(UnitPhase phase) => HasLeft(phase) || phase is UnitPhase.Rejected or UnitPhase.Disposed;

    /// <summary>Whether it is out of its form and waits in the plant to be shipped.</summary>
    public static bool AwaitsShipment(UnitPhase phase) => phase is UnitPhase.Stripped or UnitPhase.InYard or UnitPhase.Loaded or UnitPhase.Returned;

    /// <summary>The hold before the next step; null when there is none any more.</summary>
    public static HoldKind? NextHold(UnitPhase phase) => phase switch
    {
        UnitPhase.Poured => HoldKind.Strip,
        _ when AwaitsShipment(phase) => HoldKind.Ship,
        _ when IsOver(phase) => null,
        _ => HoldKind.Pour,
    };

    public static UnitState Of(UnitFile file)
    {
        var (phase, place) = InForm(file);
        string? rejection = null, delivered = null;
        foreach (var entry in file.Entries)
        {
            var own = entry.Fact.About == file.Unit;
            switch (entry.Fact)
            {
                case UnitStripped stripped when own && phase < UnitPhase.Stripped:
                    (phase, place) = (UnitPhase.Stripped, stripped.StoredAt is { } at ? $"yard, {at}" : "yard, place not recorded");
                    break;
                case UnitStored stored when own:
                    (phase, place) = (SetDown(phase), $"yard, {stored.Place}");
                    break;
                case UnitMoved moved when own && phase >= UnitPhase.Stripped:
                    (phase, place) = (SetDown(phase), $"yard, {moved.Place}");
                    break;
                case DeliveryLoaded loaded when loaded.Units.Any(u => Subject.Unit(u) == file.Unit) && !IsOver(phase):
                    (phase, place) = (UnitPhase.Loaded, $"on truck {loaded.Truck}, delivery {loaded.Delivery}");
                    break;
                case UnitShipped shipped when own && (phase != UnitPhase.Delivered || shipped.Delivery != delivered):
                    (phase, place) = (UnitPhase.Shipped, $"shipped to {shipped.Destination}, truck {shipped.Truck}, delivery {shipped.Delivery}");
                    break;
                case DeliveryDelivered received when received.Units.Any(u => Subject.Unit(u) == file.Unit):
                    (phase, place, delivered) = (UnitPhase.Delivered, $"delivered, received by {received.Receiver}, delivery {received.Delivery}", received.Delivery);
                    break;
                case UnitReturned returned when own:
                    (phase, place) = (rejection is null ? UnitPhase.Returned : UnitPhase.Rejected, $"returned, {returned.Place}");
                    break;
                case UnitRejected rejected when own:
                    (phase, rejection) = (Ended(phase, UnitPhase.Rejected), "the plant: " + rejected.Reason);
                    break;
                case AgencyRejected rejected when own:
                    (phase, rejection) = (Ended(phase, UnitPhase.Rejected), "the agency: " + rejected.Reason);
                    break;
                case UnitDisposed disposed when own:
                    (phase, place) = (UnitPhase.Disposed, $"disposed of: {disposed.How}");
                    break;
            }
        }

        var recasts = file.Of<UnitRecast>().ToList();
        return new(phase, place, rejection, file.Scheduled is { Fact.Contract: null } && file.Assigned is null,
            recasts.Where(r => r.Fact.About == file.Unit).Select(r => r.Fact.InPlaceOf).LastOrDefault(),
            recasts.Where(r => Subject.Unit(r.Fact.InPlaceOf) == file.Unit).Select(r => r.Fact.Unit).LastOrDefault());
    }

    // Up to the pour the steps are told by their records, whichever clock was ahead.
    private static (UnitPhase, string?) InForm(UnitFile file)
    {
        var phase = file.Placements.Any() ? UnitPhase.Poured
            : file.Last<PrePourInspected>() is not null || file.Last<CloseUpInspected>() is not null ? UnitPhase.Inspected
            : file.Cage is not null ? UnitPhase.Tied
            : file.Scheduled is not null ? UnitPhase.Scheduled
            : UnitPhase.Unknown;
        return (phase, phase is UnitPhase.Poured or UnitPhase.Inspected ? $"form {file.Last<CloseUpInspected>()?.Fact.Form ?? file.Scheduled?.Fact.Form ?? "not recorded"}" : null);
    }

    // What was rejected stays rejected wherever it is set down; what came back waits for a new release.
    private static UnitPhase SetDown(UnitPhase phase) => phase is UnitPhase.Rejected or UnitPhase.Disposed or UnitPhase.Returned or UnitPhase.Shipped or UnitPhase.Delivered ? phase : UnitPhase.InYard;

    private static UnitPhase Ended(UnitPhase phase, UnitPhase by) => phase == UnitPhase.Disposed || HasLeft(phase) ? phase : by;
}
