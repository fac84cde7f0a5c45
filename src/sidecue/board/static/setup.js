export class SetupView { constructor() {} show() {} }
