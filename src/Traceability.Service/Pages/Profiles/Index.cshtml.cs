using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Traceability.Core.Profiles;
using Traceability.Service.People;
using Traceability.Service.Profiles;

namespace Traceability.Service.Pages.Profiles;

[Authorize(Policy = Access.Read)]
public sealed class IndexModel(ProfileShelf shelf) : PageModel
{
    public IReadOnlyList<ShelvedProfile> Profiles { get; private set; } = [];

    public async Task OnGetAsync(CancellationToken cancel) => Profiles = await shelf.ListAsync(cancel);

    public static string Of(RoundingRule rounding) => rounding switch
    {
        RoundingRule.HalfEven => "half to even",
        RoundingRule.HalfUp => "half up",
        RoundingRule.Truncate => "truncated",
        _ => "as observed",
    };

    public static string Of(LimitRank rank) => rank switch
    {
        LimitRank.SpecialProvision => "special provision",
        LimitRank.Plan => "plan",
        LimitRank.SupplementalSpecification => "supplemental specification",
        LimitRank.StandardDrawing => "standard drawing",
        LimitRank.StandardSpecification => "standard specification",
        LimitRank.ProductStandard => "product standard",
        LimitRank.GeneralStandard => "general standard",
        _ => "plant's plan",
    };

    public static string Of(OverruledWhy why) => why switch
    {
        OverruledWhy.Precedence => "a stronger document states another",
        OverruledWhy.LooserShopDrawing => "looser than the contract: the drawing is to be corrected",
        _ => "no longer tighter than the contract",
    };
}
