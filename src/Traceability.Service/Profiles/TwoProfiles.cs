using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.Service.Units;

namespace Traceability.Service.Profiles;

/// <summary>One unit judged now by the profile in force and by another, on the same records.</summary>
/// <param name="Other">The other profile, "name@version".</param>
public sealed record UnitUnderTwo(UnitNow Now, string Other, SideBySide Sides);

/// <summary>Judges a unit by two profiles at one moment. Nothing is decided by it: what is in force stays in force.</summary>
public sealed class TwoProfiles(UnitReader units, ProfileShelf shelf)
{
    /// <summary>Null when no record bears on the unit; without sides when nobody published the profile.</summary>
    public async Task<(UnitNow? Now, UnitUnderTwo? Two)> ReadAsync(Subject unit, string profile, CancellationToken cancel)
    {
        var now = await units.ReadAsync(unit, null, cancel);
        if (now.File.Entries.Count == 0 && now.File.SetAside.Count == 0) return (null, null);
        return now.File.Under(await shelf.RecordsAsync(profile, cancel)) is { } other
            ? (now, new(now, profile, SideBySide.Of(now.File, other, now.At)))
            : (now, null);
    }
}
