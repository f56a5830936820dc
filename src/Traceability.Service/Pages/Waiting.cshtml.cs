using System.Text.Json;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Traceability.Service.Decisions;
using Traceability.Service.People;
using Traceability.Service.Recording;

namespace Traceability.Service.Pages;

/// <summary>What waits for the person: own acts that came without proof, and what a second person has to approve.</summary>
[Authorize(Policy = Access.Claims)]
public sealed class WaitingModel(WaitingRoom room, PeopleDesk desk) : PageModel
{
    public IReadOnlyList<SetApart> Claims { get; private set; } = [];

    public IReadOnlyList<SetApart> Approvals { get; private set; } = [];

    /// <summary>The person's own that wait for somebody else.</summary>
    public IReadOnlyList<SetApart> WithOthers { get; private set; } = [];

    /// <summary>People whose roles wait for a second person: not oneself, and none whom one gave them.</summary>
    public IReadOnlyList<Person> People { get; private set; } = [];

    public bool Confirms => WhoMay.To(Access.Confirm).Allows(User, own: false);

    public bool Approves => WhoMay.To(Access.Approve).Allows(User, own: false);

    public string? Said { get; private set; }

    public string? Problem { get; private set; }

    /// <summary>A member's name as words: "stepAt" as "step at".</summary>
    public static string Name(string member) => string.Concat(member.Select(c => char.IsUpper(c) ? " " + char.ToLowerInvariant(c) : c.ToString()));

    /// <summary>A member's value for a person to read: moments in plant time, lists with commas between.</summary>
    public static string Value(JsonElement value, PlantSettings plant) => value.ValueKind switch
    {
        JsonValueKind.String when value.GetString() is { } text => text.Contains('T', StringComparison.Ordinal) && value.TryGetDateTimeOffset(out var at) ? plant.Time(at) : text,
        JsonValueKind.Array => string.Join(", ", value.EnumerateArray().Select(v => Value(v, plant))),
        JsonValueKind.Object => string.Join("; ", value.EnumerateObject().Select(m => $"{Name(m.Name)} {Value(m.Value, plant)}")),
        JsonValueKind.True => "yes",
        JsonValueKind.False => "no",
        _ => value.GetRawText(),
    };

    public Task OnGetAsync(CancellationToken cancel) => ReadAsync(cancel);

    public Task OnPostConfirmAsync(Guid entry, string? contentHash, string? pin, CancellationToken cancel) =>
        AnswerAsync(room.ConfirmAsync(entry, contentHash, true, null, User.PersonId(), pin, cancel), "Confirmed.", cancel);

    public Task OnPostDenyAsync(Guid entry, string? contentHash, string? pin, string? reason, CancellationToken cancel) =>
        AnswerAsync(room.ConfirmAsync(entry, contentHash, false, reason, User.PersonId(), pin, cancel), "Refused. It stays kept and never counts.", cancel);

    [May(Access.Approve)]
    public Task OnPostApproveAsync(Guid entry, string? contentHash, string? pin, CancellationToken cancel) =>
        AnswerAsync(room.ApproveAsync(entry, contentHash, true, null, User.PersonId(), pin, cancel), "Approved. It counts from now on.", cancel);

    [May(Access.Approve)]
    public Task OnPostRefuseAsync(Guid entry, string? contentHash, string? pin, string? reason, CancellationToken cancel) =>
        AnswerAsync(room.ApproveAsync(entry, contentHash, false, reason, User.PersonId(), pin, cancel), "Refused. The old verdict stands.", cancel);

    [May(Access.Confirm)]
    public async Task OnPostConfirmRolesAsync(string? id, string? asked, string? pin, CancellationToken cancel) =>
        await AnswerAsync(await desk.ConfirmAsync(id ?? "", asked, User.PersonId(), pin, cancel), "Confirmed. The role holds from now on.", cancel);

    [May(Access.Confirm)]
    public async Task OnPostRefuseRolesAsync(string? id, string? reason, string? pin, CancellationToken cancel) =>
        await AnswerAsync(await desk.RefuseAsync(id ?? "", reason, User.PersonId(), pin, cancel), "Refused. The role does not hold.", cancel);

    private Task AnswerAsync(Changed changed, string said, CancellationToken cancel) => AnswerAsync(Task.FromResult(new Decided(null, changed.Problem)), said, cancel);

    private async Task AnswerAsync(Task<Decided> settling, string said, CancellationToken cancel)
    {
        var decided = await settling;
        if (decided.Problem is { } problem)
        {
            Problem = problem.Detail;
            Response.StatusCode = problem.Status ?? StatusCodes.Status409Conflict;
        }
        else
        {
            Said = said;
        }

        await ReadAsync(cancel);
    }

    private async Task ReadAsync(CancellationToken cancel)
    {
        Claims = await room.ClaimsAsync(User.PersonId(), cancel);
        Approvals = Approves ? await room.ApprovalsAsync(User.PersonId(), cancel) : [];
        People = Confirms ? desk.WaitingForSecond(User.PersonId()) : [];
        WithOthers = await room.WithOthersAsync(User.PersonId(), cancel);
    }
}
