using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Traceability.Service.People;

namespace Traceability.Service.Pages;

[Authorize(Policy = Access.Administrator)]
public sealed class DevicesModel(Register register, Authority authority, EnrolmentCodes codes, DeviceSequences sequences, Signing signing, TimeProvider clock) : PageModel
{
    public sealed record Row(Device Device, DeviceSequence? Sequence);

    public IReadOnlyList<Row> Rows { get; private set; } = [];

    public string? Code { get; private set; }

    public DateTimeOffset CodeValidUntil { get; private set; }

    public string? Problem { get; private set; }

    public Task OnGetAsync(CancellationToken cancel) => ListAsync(cancel);

    public async Task OnPostCodeAsync(string[]? roles, CancellationToken cancel)
    {
        var known = (roles ?? []).Intersect(DeviceEndpoints.StationRoles).ToList();
        if (known.Count == 0)
        {
            Problem = "Tick what is recorded at the kiosk, then make the code.";
            Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        }
        else
        {
            (Code, CodeValidUntil) = await codes.MakeAsync(known, User.PersonId(), cancel);
        }

        await ListAsync(cancel);
    }

    public async Task OnPostRevokeAsync(string id, string? pin, CancellationToken cancel)
    {
        if (signing.Pin(User.PersonId(), pin).Problem is { } unsigned)
        {
            Problem = unsigned.Detail;
            Response.StatusCode = unsigned.Status!.Value;
        }
        else if (!await authority.RevokeAsync(register, id ?? "", User.PersonId(), clock.GetUtcNow(), cancel))
        {
            Problem = $"'{id}' is not a device of this plant.";
            Response.StatusCode = StatusCodes.Status404NotFound;
        }

        await ListAsync(cancel);
    }

    public async Task OnPostSourcesAsync(string id, string? sources, CancellationToken cancel)
    {
        if (await authority.TieAsync(register, id ?? "", User.PersonId(), (sources ?? "").Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries), cancel) is { } problem)
        {
            Problem = problem.Detail;
            Response.StatusCode = problem.Status!.Value;
        }

        await ListAsync(cancel);
    }

    // Stations with a shared key do not number their entries.
    private async Task ListAsync(CancellationToken cancel)
    {
        var rows = new List<Row>();
        foreach (var device in register.Devices.OrderBy(d => d.RevokedAt is not null).ThenBy(d => d.Name, StringComparer.Ordinal))
            rows.Add(new(device, device.PublicKey is null ? null : await sequences.OfAsync(device.Id, cancel)));
        Rows = rows;
    }
}
