using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Traceability.Service.People;

namespace Traceability.Service.Pages;

/// <summary>The administrator's list of people.</summary>
[Authorize(Policy = Access.People)]
public sealed class PeopleModel(Register register, PeopleDesk desk, SignOns signOns) : PageModel
{
    public IReadOnlyList<Person> Rows { get; private set; } = [];

    public ILookup<string, SignOn> SignedOn { get; private set; } = null!;

    public Changed? Answer { get; private set; }

    public string? Said { get; private set; }

    public string NameOf(string device) => register.Device(device)?.Name ?? device;

    public Task OnGetAsync(CancellationToken cancel) => ListAsync(cancel);

    public async Task OnPostAsync(string? id, string? displayName, string[]? roles, CancellationToken cancel) =>
        await AnswerAsync(await desk.BringInAsync(id, displayName, roles, User.PersonId(), cancel), "is in the register", cancel);

    [May(Access.PeopleOfOthers)]
    public async Task OnPostRolesAsync(string id, string? pin, string[]? roles, CancellationToken cancel) => await AnswerAsync(await desk.RolesAsync(id ?? "", roles, User.PersonId(), pin, cancel), "has these roles now; open sessions ended", cancel);

    [May(Access.PeopleOfOthers)]
    public async Task OnPostLapseAsync(string id, string? pin, CancellationToken cancel) => await AnswerAsync(await desk.LapseAsync(id ?? "", User.PersonId(), pin, cancel), "has no roles from now on; open sessions ended", cancel);

    [May(Access.PeopleOfOthers)]
    public async Task OnPostEndSessionsAsync(string id, string? pin, CancellationToken cancel) => await AnswerAsync(await desk.EndSessionsAsync(id ?? "", User.PersonId(), pin, cancel), "is signed out everywhere", cancel);

    [May(Access.PeopleOfOthers)]
    public async Task OnPostSecretsAsync(string id, string? pin, CancellationToken cancel) => await AnswerAsync(await desk.SecretsAsync(id ?? "", User.PersonId(), pin, cancel), "has a new first password; open sessions ended", cancel);

    [May(Access.PeopleOfOthers)]
    public async Task OnPostEraseAsync(string id, string? pin, CancellationToken cancel) => await AnswerAsync(await desk.EraseAsync(id ?? "", User.PersonId(), pin, cancel), "has no name here any more", cancel);

    private async Task AnswerAsync(Changed changed, string said, CancellationToken cancel)
    {
        Answer = changed;
        Said = said;
        if (changed.Problem is { } problem) Response.StatusCode = problem.Status!.Value;
        await ListAsync(cancel);
    }

    private async Task ListAsync(CancellationToken cancel)
    {
        Rows = [.. register.People.OrderBy(p => p.LapsedAt is not null).ThenBy(p => p.Id, StringComparer.Ordinal)];
        SignedOn = await signOns.AllAsync(cancel);
    }
}
