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
    public Task ChangeAsync(object changed, IAuthorityChange fact, string? by, string assurance, CancellationToken cancel) => WriteAsync(changed, null, fact, by, assurance, cancel);

    /// <summary>Changes a person and records it, unless the person changed since it was read.</summary>
    /// <param name="stamp">The stamp it was read with; empty of a person who was not there.</param>
    /// <returns>False when the store has another by now; nothing was changed.</returns>
    public Task<bool> ChangeAsync(Person changed, string stamp, IAuthorityChange fact, string? by, string assurance, CancellationToken cancel) =>
        WriteAsync(changed, async writing =>
        {
            await using var command = new Npgsql.NpgsqlCommand("select coalesce((select data ->> 'stamp' from marten.mt_doc_person where id = $1), '')", writing.Connection) { Parameters = { new() { Value = changed.Id } } };
            return (string)(await command.ExecuteScalarAsync(cancel))! == stamp;
        }, fact, by, assurance, cancel);

    private async Task<bool> WriteAsync(object changed, Func<Writing, Task<bool>>? holds, IAuthorityChange fact, string? by, string assurance, CancellationToken cancel)
    {
        await using (var writing = await recorder.BeginAsync(cancel))
        {
            if (holds is not null && !await holds(writing)) return false;
            await writing.AddOwnAsync(fact, clock.GetUtcNow(), by, assurance, "service" + (scenario is null ? "" : ", scenario clock"), cancel);
            await writing.StoreAsync(changed, cancel);
            await writing.CommitAsync(cancel);
        }

        await register.TellAsync(cancel);
        return true;
    }
}
