using Traceability.Core.Dossiers;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.Service.Linking;

namespace Traceability.Service.Units;

/// <summary>A unit judged at a moment, and as of which log position.</summary>
public sealed record UnitNow(Dossier Dossier, UnitFile File, Judgement Judgement, DateTimeOffset At);

/// <summary>Judges a unit now, on fresh records. What every page, packet and gate reads; never a view.</summary>
public sealed class UnitReader(DossierStore dossiers, TimeProvider clock)
{
    /// <summary>Judged now; or as known then, with the clock of then, under today's rules.</summary>
    public async Task<UnitNow> ReadAsync(Subject unit, AsKnown? asKnown, CancellationToken cancel)
    {
        var dossier = await dossiers.LoadAsync(unit, asKnown?.Position, cancel);
        var file = Assemble.Unit(dossier);
        var at = asKnown?.At ?? clock.GetUtcNow();
        return new(dossier, file, Judge.Unit(file, at), at);
    }
}
