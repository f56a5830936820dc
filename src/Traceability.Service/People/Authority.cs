using Traceability.Core.Events;
using Traceability.Service.Operations;
using Traceability.Service.Recording;

namespace Traceability.Service.People;

/// <summary>
/// Where people, roles, secrets and devices change: the register and the record of the change are written in one transaction,
/// so that neither stands without the other.
/// </summary>
public sealed class Authority(Register register, Recorder recorder, TimeProvider clock, ScenarioClock? scenario = null)
{
    /// <summary>How somebody proved who they are: the PIN at that moment, the password in use, an open session, a code for a device, or nothing but the machine.</summary>
    public const string Pin = "pin", Password = "password", Session = "session", Code = "code", Machine = "machine";

    /// <summary>Makes a change and records it.</summary>
    /// <param name="changed">The person or device as it stands from now on.</param>
    /// <param name="by">Whose act it is; null when nobody signed for it.</param>
    public async Task ChangeAsync(object changed, IAuthorityChange fact, string? by, string assurance, CancellationToken cancel)
    {
        await using (var writing = await recorder.BeginAsync(cancel))
        {
            await writing.AddOwnAsync(fact, clock.GetUtcNow(), by, assurance, "service" + (scenario is null ? "" : ", scenario clock"), cancel);
            await writing.StoreAsync(changed, cancel);
            await writing.CommitAsync(cancel);
        }

        await register.TellAsync(cancel);
    }
}
